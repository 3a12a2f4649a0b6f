import { z } from 'zod';
import { measure } from '../catalog/items.schema.js';
import { amount, amountInput, isoDay, itemCode, lineOfText, pageLimit } from '../platform/schema.js';

export const sampleCreate = z
  .strictObject({
    lot: lineOfText(80).optional().describe('Of a batch that left several lots: which; the lot it made unless said'),
    quantity: amountInput,
    place: lineOfText(120).describe('Where the sample stands'),
    discardOn: isoDay.describe('The day it may be thrown away'),
    on: isoDay.optional().describe('Today unless said, never a day to come'),
  })
  .meta({ id: 'SampleCreate' });
export type SampleCreate = z.infer<typeof sampleCreate>;

export const keptSample = z
  .object({
    id: z.int(),
    batch: z.string(),
    item: itemCode,
    lot: z.string(),
    quantity: amount,
    measure: measure,
    place: z.string(),
    keptOn: isoDay,
    keptBy: z.string(),
    discardOn: isoDay,
    discardedOn: isoDay.nullable(),
    discardedBy: z.string().nullable(),
  })
  .meta({ id: 'KeptSample' });
export type KeptSample = z.infer<typeof keptSample>;

export const sampleQuery = z.strictObject({
  dueBy: isoDay.optional().describe('Only those that are still kept and may be thrown away by this day'),
  limit: pageLimit,
  after: z.coerce.number().int().min(0).optional().describe('The last sample of the page before'),
});
export type SampleQuery = z.infer<typeof sampleQuery>;
export const sampleList = z.object({ samples: z.array(keptSample) }).meta({ id: 'SampleList' });
export const samplePage = z
  .object({ samples: z.array(keptSample), next: z.int().nullable() })
  .meta({ id: 'SamplePage' });
export type SamplePage = z.infer<typeof samplePage>;

export const sampleDiscard = z.strictObject({ on: isoDay.optional() }).meta({ id: 'SampleDiscard' });
export type SampleDiscard = z.infer<typeof sampleDiscard>;
