import { z } from 'zod';
import { emailAddress, instant, isoDay, lineOfText, messageId, pageLimit } from '../platform/schema.js';

/** What there can be a notice about, in the order in which they matter. */
export const REMINDER_KINDS = [
  'shortfall',
  'reorder',
  'late-delivery',
  'expiring',
  'rest-over',
  'sample',
  'certificate',
  'count',
] as const;
export type ReminderKind = (typeof REMINDER_KINDS)[number];
const kind = z.enum(REMINDER_KINDS).meta({ id: 'ReminderKind' });

export const REMINDER_STATES = ['open', 'snoozed', 'acknowledged', 'over'] as const;
export const reminderState = z.enum(REMINDER_STATES).meta({ id: 'ReminderState' });

export const reminderView = z
  .object({
    id: z.int(),
    kind,
    title: z.string(),
    detail: z.string(),
    link: z.string().describe('The page that shows more'),
    dueOn: isoDay,
    status: reminderState,
    muted: z.boolean().describe('Its kind is muted: it is listed but not sent'),
    snoozedUntil: z.string().nullable(),
    overOn: z.string().nullable(),
    since: instant,
    changedBy: z.string(),
    sent: z
      .array(z.object({ channel: z.string(), message: messageId, status: z.string(), sentAt: instant.nullable() }))
      .describe('Every message it went out in'),
  })
  .meta({ id: 'ReminderView' });
export type ReminderView = z.infer<typeof reminderView>;

export const reminderQuery = z.strictObject({
  status: reminderState.default('open'),
  kind: kind.optional(),
  limit: pageLimit,
  after: z.coerce.number().int().positive().optional().describe('The id of the last one of the page before'),
});
export type ReminderQuery = z.infer<typeof reminderQuery>;
export const reminderPage = z
  .object({
    today: z.string(),
    reminders: z.array(reminderView),
    next: z.int().nullable().describe('What to give as after for the next page'),
  })
  .meta({ id: 'ReminderPage' });
export type ReminderPage = z.infer<typeof reminderPage>;

export const reminderCounts = z
  .object({
    open: z.int(),
    snoozed: z.int(),
    acknowledged: z.int(),
    muted: z.int().describe('Open ones whose kind is muted'),
  })
  .meta({ id: 'ReminderCounts' });
export type ReminderCounts = z.infer<typeof reminderCounts>;

export const snoozeBody = z.strictObject({ until: isoDay.describe('The day it comes back') }).meta({ id: 'Snooze' });
export const kindPath = z.strictObject({ kind });
export const mutedView = z.object({ muted: z.array(kind) }).meta({ id: 'MutedKinds' });
export type MutedView = z.infer<typeof mutedView>;

const clock = z
  .string()
  .regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'must be a time, such as 07:00')
  .meta({ id: 'ClockTime' });

export const noticeSettingsPut = z
  .strictObject({
    emailTo: z.array(emailAddress).max(20),
    emailDigest: z.boolean().describe('One email a day instead of one for each notice'),
    webhookUrl: z
      .union([z.literal(''), z.url({ protocol: /^https?$/ }).max(2000)])
      .describe('Where notices are posted to; empty is nowhere'),
    webhookDigest: z.boolean(),
    digestAt: clock.describe("On the workshop's clock"),
    quietFrom: clock.nullable(),
    quietTo: clock.nullable(),
    countDays: z.int().min(0).max(3650).describe('A lot is to be counted after so many days; 0 is never'),
    limitMonths: z.int().min(0).max(240).describe('A use limit is to be looked up again after so many; 0 is never'),
  })
  .refine(({ quietFrom, quietTo }) => (quietFrom === null) === (quietTo === null), {
    error: 'say both ends of the quiet hours, or none',
    path: ['quietTo'],
  })
  .refine(({ quietFrom, quietTo }) => quietFrom === null || quietFrom !== quietTo, {
    error: 'must not be when they begin',
    path: ['quietTo'],
  })
  .meta({ id: 'NoticeSettingsPut' });
export type NoticeSettingsPut = z.infer<typeof noticeSettingsPut>;

export const noticeSettings = z
  .object({
    emailTo: z.array(z.string()),
    emailDigest: z.boolean(),
    emailServer: z.string().nullable().describe('Host of the server email goes to; null: none is set'),
    webhookUrl: z.string(),
    webhookDigest: z.boolean(),
    digestAt: z.string(),
    quietFrom: z.string().nullable(),
    quietTo: z.string().nullable(),
    countDays: z.int(),
    limitMonths: z.int(),
    calendarSince: instant.nullable().describe('Since when there is a calendar to subscribe to; null: there is none'),
  })
  .meta({ id: 'NoticeSettings' });
export type NoticeSettings = z.infer<typeof noticeSettings>;

export const webhookSecret = z
  .object({ secret: z.string().describe('Told once, to check signatures with') })
  .meta({ id: 'WebhookSecret' });
export const calendarAddress = z
  .object({ path: z.string().describe('Told once: where to subscribe') })
  .meta({ id: 'CalendarAddress' });
export const sentTest = z.object({ channels: z.array(lineOfText(20)) }).meta({ id: 'SentTest' });
