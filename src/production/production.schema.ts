import { z } from 'zod';
import { amount, amountInput, isoDay, itemCode, lineOfText, pageQuery } from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';

export const BATCH_STATUSES = [
  'planned',
  'reserved',
  'weighed',
  'resting',
  'released',
  'rejected',
  'cancelled',
] as const;

const batchHead = {
  code: z.string(),
  item: itemCode,
  status: z.enum(BATCH_STATUSES),
  day: isoDay,
  readyOn: isoDay,
  vessel: z.string().nullable(),
  output: amount.describe('What is meant to come out'),
};

export const batchSummary = z.object(batchHead);
export const batchPage = z.object({ batches: z.array(batchSummary), next: z.string().nullable() });
export type BatchPage = z.infer<typeof batchPage>;

export const batchQuery = pageQuery.extend({ status: z.enum(BATCH_STATUSES).optional() });
export type BatchQuery = z.infer<typeof batchQuery>;

export const batchInput = z.object({
  position: z.int(),
  item: itemCode,
  step: z.enum(['make', 'fill', 'pack']),
  needOn: isoDay,
  quantity: amount.describe('What is meant to go in'),
  reserved: z
    .array(z.object({ source: z.string().describe('A lot, a batch or a delivery'), quantity: amount, needOn: isoDay }))
    .describe('Set aside and not yet used'),
  weighed: amount.describe('What went in, corrections taken off'),
  lots: z.array(z.object({ lot: z.string(), quantity: amount })).describe('Of which lots that was'),
  done: z.boolean().describe('All of it is weighed, or what is weighed was said to be all'),
});
export const batchView = z.object({ ...batchHead, putInMg: amount, inputs: z.array(batchInput) });
export type BatchView = z.infer<typeof batchView>;

export const weighingCreate = z.strictObject({
  position: z.int().min(1).max(64).describe('The line of the sheet'),
  lot: lineOfText(80),
  quantity: amountInput.describe('What really went in'),
  on: isoDay.optional().describe('Today unless said, never a day to come'),
  isAll: z.boolean().default(false).describe('Nothing more of this line goes in, though it is less than was meant'),
});
export type WeighingCreate = z.infer<typeof weighingCreate>;

export const weighed = z.object({
  movements: z.array(z.int()).describe('One for each promise that was used, and one for the rest'),
  foundMore: amount.describe('What the lot held beyond the book, posted as a count first'),
  freed: z.array(brokenPromise).describe('Whom it was taken from'),
  batch: batchView,
});
export type Weighed = z.infer<typeof weighed>;
