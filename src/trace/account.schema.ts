import { z } from 'zod';
import { traceDirection } from './trace.schema.js';
import { itemKind, measure } from '../catalog/items.schema.js';
import { amount, isoDay, itemCode, partsPpb } from '../platform/schema.js';

export const accountQuery = z.strictObject({
  direction: traceDirection.default('forward').describe('Which lots of its trace are accounted for'),
  countedSince: isoDay.optional().describe('A count of the shelf before this day confirms nothing; left out, any does'),
});
export type AccountQuery = z.infer<typeof accountQuery>;

export const lotAccount = z
  .object({
    lot: z.string(),
    item: itemCode,
    name: z.string(),
    kind: itemKind,
    measure: measure,
    received: amount,
    made: amount,
    returned: amount.describe('Came back from customers, as this lot'),
    splitFrom: amount.describe('Split off another lot, as this lot'),
    found: amount.describe('More than the book said, at counts'),
    onShelf: amount,
    reserved: amount.describe('Of what is on the shelf'),
    usedInBatches: amount,
    usedElsewhere: amount.describe('Trials, own use, and what was taken without a batch'),
    shipped: amount,
    sampled: amount,
    scrapped: amount,
    sentToSupplier: amount,
    splitOff: amount,
    lost: amount.describe('Less than the book said, at counts'),
    bookDifference: z.int().describe('What both sides differ by: zero unless the ledger is broken'),
    countedOn: isoDay.nullable().describe('The last count of its shelf'),
    isCounted: z.boolean().describe('Whether that is late enough to confirm what is on the shelf, or there is nothing'),
    answered: amount.describe('Of what was shipped, what recipients account for or what came back'),
    missing: amount.describe('Of what was shipped, what recipients say never came'),
    surplus: amount.describe('What recipients say came beyond what was shipped'),
    unconfirmed: amount.describe('Nobody counted or answered yet'),
    unexplained: z.int().describe('More (above zero) or less than there should be, by counts and answers'),
    reconciledPpb: partsPpb.describe('Confirmed and explained, of all that came in'),
  })
  .meta({ id: 'LotAccount' });
export type LotAccount = z.infer<typeof lotAccount>;

const batchAccount = z
  .object({
    batch: z.string(),
    item: itemCode,
    status: z.string(),
    putInMg: amount.nullable().describe('null: it is not closed yet'),
    madeMg: amount.nullable(),
    leftMg: amount.nullable(),
    lossMg: z.int().nullable(),
    expectedLossMg: amount.nullable(),
    lossReason: z.string(),
  })
  .meta({ id: 'BatchAccount' });
export type BatchAccount = z.infer<typeof batchAccount>;

export const accountView = z
  .object({
    lot: z.string(),
    isWhole: z.boolean(),
    reconciledPpb: partsPpb.describe('Of the lot itself'),
    madeReconciledPpb: partsPpb
      .nullable()
      .describe('Of all pieces of products in the trace together; null: there are none'),
    unexplainedLots: z.int().describe('How many lots have something unexplained'),
    lots: z.array(lotAccount),
    batches: z.array(batchAccount),
  })
  .meta({ id: 'AccountView' });
export type AccountView = z.infer<typeof accountView>;
