import { z } from 'zod';
import { amount, isoDay } from '../platform/schema.js';
import { coverReason, itemQuantity } from './planning.schema.js';

const standing = z
  .object({
    readyOn: isoDay.nullable(),
    lateDays: z.int(),
    missing: amount,
    because: coverReason.nullable(),
  })
  .meta({ id: 'LineStanding' });

const help = z
  .object({
    hours: z
      .array(z.object({ day: isoDay, minutes: z.int(), who: z.array(z.string()).optional() }))
      .optional()
      .describe('So many more minutes at the bench; who: of these, where not just anybody can work longer'),
    vessel: z.object({ kind: z.string(), capacityMg: amount }).optional().describe('One more such vessel'),
    materials: z.array(itemQuantity).optional().describe('So much more on the shelf today'),
    deliveries: z
      .array(z.object({ key: z.string(), day: isoDay }))
      .optional()
      .describe('Here, and fit to be used, today'),
    standing,
  })
  .meta({ id: 'LateLineHelp' })
  .describe(
    'One of four changes, with the line before all others, and how it stands then; nobody else is served worse',
  );

const givingWay = z
  .object({
    now: standing.describe('As it is planned among all others'),
    first: standing.describe('Before all others'),
    worse: z
      .array(z.object({ key: z.string(), item: z.string(), shipBy: isoDay, now: standing, instead: standing }))
      .describe('Who would then be served worse'),
    alone: standing.describe('With no other order and no stock to fill'),
    help: z.array(help),
  })
  .meta({ id: 'GivingWay' });

export const lateLineSchema = z
  .object({
    line: z.string(),
    item: z.string(),
    quantity: amount.describe('What of it no lots are set aside for'),
    shipBy: isoDay,
    today: isoDay,
    weekStart: isoDay,
    way: givingWay.nullable().describe('Null where it is in time and covered now'),
  })
  .meta({ id: 'LateLine' });
