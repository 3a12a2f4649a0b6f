import { z } from 'zod';
import { amount, isoDay, itemCode, moneyE4, pageQuery } from '../platform/schema.js';

export const stockQuery = pageQuery.extend({
  asOf: isoDay.optional().describe('The end of this day; today unless said'),
  item: itemCode.optional(),
});
export type StockQuery = z.infer<typeof stockQuery>;

export const stockOnDay = z
  .object({
    asOf: isoDay,
    items: z.array(
      z.object({
        item: itemCode,
        onHand: amount,
        valueE4: moneyE4,
        lots: z.array(z.object({ lot: z.string(), onHand: z.int(), valueE4: z.int() })),
      }),
    ),
    next: z.string().nullable(),
  })
  .meta({ id: 'StockOnDay' });
export type StockOnDay = z.infer<typeof stockOnDay>;

export const ledgerQuery = z.strictObject({
  from: isoDay.optional().describe('The first day done, inclusive'),
  to: isoDay.optional().describe('The last day done, inclusive'),
  item: itemCode.optional(),
});
export type LedgerQuery = z.infer<typeof ledgerQuery>;
