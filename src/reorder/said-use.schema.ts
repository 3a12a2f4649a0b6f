import { z } from 'zod';
import { amount, amountInput, itemCode, nearDay, partsPpb, percentUpTo } from '../platform/schema.js';

/** A hundred times as much. */
const LIKE_MOST_PPB = 100_000_000_000;
/** A thousandth. */
const LIKE_LEAST_PPB = 1_000_000;

export const PER = ['week', 'month'] as const;
const per = z.enum(PER).meta({ id: 'UsePer' });

const from = nearDay
  .nullable()
  .default(null)
  .describe('The day it begins; its own use counts from then on. Null: all of its own use counts');

const likeSaid = z
  .strictObject({
    by: z.literal('like'),
    like: itemCode.describe('Another bought item, measured the same way'),
    percent: percentUpTo(LIKE_MOST_PPB)
      .refine((ppb) => ppb >= LIKE_LEAST_PPB, { error: 'must be from 0.1 % to 10 000 %' })
      .meta({ id: 'LikePercentSent' })
      .describe('So much of what the other one uses: "80 %"'),
    from,
  })
  .meta({ id: 'LikeSaid' });

const estimateSaid = z
  .strictObject({
    by: z.literal('estimate'),
    quantity: amountInput,
    per,
    from,
  })
  .meta({ id: 'EstimateSaid' });

export const saidPut = z.discriminatedUnion('by', [likeSaid, estimateSaid]).meta({ id: 'SaidUsePut' });
export type SaidPut = z.infer<typeof saidPut>;

export const saidView = z
  .object({
    item: itemCode,
    by: z.enum(['like', 'estimate', 'nothing']).meta({ id: 'SaidUseBy' }),
    like: itemCode.nullable(),
    likePpb: partsPpb.nullable(),
    quantity: amount.nullable(),
    per: per.nullable(),
    from: nearDay.nullable(),
    saidBy: z.string().nullable(),
  })
  .meta({ id: 'SaidUse' });
export type SaidView = z.infer<typeof saidView>;
