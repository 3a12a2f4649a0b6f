import { z } from 'zod';
import { checkPhoto } from '../checks/checks.schema.js';
import { orderName } from '../orders/orders.schema.js';
import { amount, instant, isoDay, itemCode, lineOfText, longText, pageQuery } from '../platform/schema.js';

export const caseStatus = z.enum(['open', 'closed']).meta({ id: 'CaseStatus' });

export const HARMS = ['none', 'skin', 'fire', 'glass', 'other'] as const;
export type Harm = (typeof HARMS)[number];
const harmSchema = z.enum(HARMS).meta({ id: 'Harm' });
export const HARMED = ['nobody', 'person', 'property', 'both'] as const;
export type Harmed = (typeof HARMED)[number];
const harmedSchema = z.enum(HARMED).meta({ id: 'Harmed' });

export const complaintCode = z
  .string()
  .regex(/^C\d{2}-\d{3,9}$/, 'must be such as C26-001')
  .meta({ id: 'ComplaintCode' });

export const complaintCreate = z
  .strictObject({
    reportedOn: isoDay.optional().describe('Today unless said, never a day to come'),
    happenedOn: isoDay.optional(),
    item: itemCode.optional().describe('The product, if nothing better is known'),
    lot: lineOfText(500).optional().describe('The code on the label, or what a scanner read of it'),
    order: orderName.optional(),
    description: longText(5_000).min(1).describe('What was reported, in the words of who reported it'),
    harm: harmSchema,
    harmed: harmedSchema.optional().describe('Left out, nobody where there is no harm, else a person'),
    reporter: lineOfText(200).optional(),
    contact: lineOfText(500).optional(),
    dueOn: isoDay
      .optional()
      .describe('By when it is answered; left out, tomorrow where somebody was harmed, else in a week'),
  })
  .refine(({ harm, harmed }) => harmed === undefined || (harm === 'none') === (harmed === 'nobody'), {
    error: 'harm and who was harmed go together',
    path: ['harmed'],
  })
  .meta({ id: 'ComplaintCreate' });
export type ComplaintCreate = z.infer<typeof complaintCreate>;

export const entryCreate = z
  .strictObject({
    kind: z.enum(['note', 'answer', 'advice', 'due', 'lot', 'order', 'closed', 'reopened']),
    text: longText(5_000).default(''),
    dueOn: isoDay.optional().describe('With kind due'),
    lot: lineOfText(500).optional().describe('With kind lot: the lot it turned out to be'),
    order: orderName.optional().describe('With kind order'),
  })
  .refine(({ kind, dueOn }) => (kind === 'due') === (dueOn !== undefined), {
    error: 'goes with kind due',
    path: ['dueOn'],
  })
  .refine(({ kind, lot }) => (kind === 'lot') === (lot !== undefined), { error: 'goes with kind lot', path: ['lot'] })
  .refine(({ kind, order }) => (kind === 'order') === (order !== undefined), {
    error: 'goes with kind order',
    path: ['order'],
  })
  .refine(({ kind, text }) => ['due', 'lot', 'order'].includes(kind) || text !== '', {
    error: 'say what',
    path: ['text'],
  })
  .meta({ id: 'ComplaintEntryCreate' });
export type EntryCreate = z.infer<typeof entryCreate>;

const complaintEntry = z
  .object({
    id: z.int(),
    kind: z.string(),
    text: z.string(),
    dueOn: isoDay.nullable(),
    lot: z.string().nullable(),
    order: z.string().nullable(),
    by: z.string(),
    at: instant,
  })
  .meta({ id: 'ComplaintEntry' });

export const complaintView = z
  .object({
    code: complaintCode,
    status: caseStatus,
    reportedOn: isoDay,
    happenedOn: isoDay.nullable(),
    item: itemCode.nullable(),
    lots: z.array(z.string()).describe('Lots it may be about: the one that is named, else what was sent for the order'),
    isLotKnown: z.boolean(),
    orders: z.array(z.string()).describe('As channel and number'),
    description: z.string(),
    harm: harmSchema,
    harmed: harmedSchema,
    reporter: z.string(),
    contact: z.string(),
    dueOn: isoDay,
    isOverdue: z.boolean(),
    urges: z.array(z.string()).describe('What to do first; the local authority decides what must be reported'),
    entries: z.array(complaintEntry),
    photos: z.array(z.object({ id: z.int(), type: z.string() })),
    recalls: z.array(z.string()),
    createdBy: z.string(),
    createdAt: instant,
  })
  .meta({ id: 'ComplaintView' });
export type ComplaintView = z.infer<typeof complaintView>;

export const complaintQuery = pageQuery.extend({ status: caseStatus.optional() });
export type ComplaintQuery = z.infer<typeof complaintQuery>;
const complaintSummary = complaintView
  .pick({
    code: true,
    status: true,
    reportedOn: true,
    item: true,
    lots: true,
    harm: true,
    harmed: true,
    dueOn: true,
    isOverdue: true,
    description: true,
  })
  .meta({ id: 'ComplaintSummary' });
export type ComplaintSummary = z.infer<typeof complaintSummary>;
export const complaintPage = z
  .object({ complaints: z.array(complaintSummary), next: z.string().nullable() })
  .meta({ id: 'ComplaintPage' });
export type ComplaintPage = z.infer<typeof complaintPage>;

export const complaintPhoto = checkPhoto;
export type ComplaintPhoto = z.infer<typeof complaintPhoto>;

export const suspicionQuery = z.strictObject({
  complaints: z
    .string()
    .regex(/^C\d{2}-\d{3,9}(?:,C\d{2}-\d{3,9}){0,49}$/, 'must be codes of complaints with commas between')
    .optional()
    .describe('Left out, all that are open'),
  days: z.coerce
    .number()
    .int()
    .min(1)
    .max(3_650)
    .default(730)
    .describe('Lots shipped so many days back are compared with'),
});
export type SuspicionQuery = z.infer<typeof suspicionQuery>;

const suspect = z
  .object({
    kind: z.enum(['lot', 'delivery', 'vessel', 'day']),
    code: z.string(),
    name: z.string(),
    item: itemCode.nullable(),
    complaints: z.array(z.string()).describe('Which it would explain'),
    lotsHit: z.int().describe('Complained lots it is in'),
    lotsIn: z.int().describe('Lots that were sold and that it is in'),
    onHand: amount.nullable(),
    status: z.string().nullable(),
    chance: z.number().describe('That chance alone puts it in at least so many complained lots (Fisher, one-sided)'),
  })
  .meta({ id: 'Suspect' });
export type Suspect = z.infer<typeof suspect>;

export const suspicionView = z
  .object({
    complaints: z.array(z.string()),
    withoutLot: z.array(z.string()).describe('Of these nobody knows the lot yet'),
    lotsComplained: z.int(),
    lotsSold: z.int().describe('All lots that were sold in the time'),
    isWhole: z.boolean(),
    suspects: z.array(suspect).describe('The least likely by chance first'),
  })
  .meta({ id: 'SuspicionView' });
export type SuspicionView = z.infer<typeof suspicionView>;
