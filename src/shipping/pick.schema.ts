import { z } from 'zod';
import { orderSends } from '../orders/orders.schema.js';
import { amount, isoDay, itemCode, lineOfText } from '../platform/schema.js';

export const pickQuery = z.strictObject({
  until: isoDay.optional().describe('Only what has to go by this day'),
  place: lineOfText(120).optional().describe('Only orders of which something stands there'),
});
export type PickQuery = z.infer<typeof pickQuery>;

const pick = z
  .object({
    item: itemCode,
    lot: z.string(),
    place: z.string(),
    quantity: amount,
    expiresOn: isoDay.nullable(),
    isSetAside: z.boolean().describe('Promised to this line; else it is free'),
  })
  .meta({ id: 'PickTake' });
export type Pick = z.infer<typeof pick>;

export const pickLine = z
  .object({
    code: z.string(),
    occurrence: z.int(),
    item: itemCode,
    name: z.string(),
    open: amount,
    shipBy: isoDay,
    notBefore: isoDay.nullable(),
    owedDays: z.int().describe('Days the customer is owed from the day it goes'),
    isFlammable: z.boolean(),
    picks: z.array(pick).describe('First expired first'),
    packs: z
      .object({ quantity: amount, parts: z.array(pick) })
      .nullable()
      .describe('Of a set: how many can be put together now, and of which lots'),
    short: amount.describe('Neither on the shelf nor to be put together'),
  })
  .meta({ id: 'PickLine' });
export type PickLine = z.infer<typeof pickLine>;

export const pickOrder = z
  .object({
    channel: z.string(),
    number: z.string(),
    customer: z.string().nullable(),
    urgent: z.boolean(),
    sentAs: orderSends,
    shipBy: isoDay,
    lines: z.array(pickLine),
    isWhole: z.boolean().describe('All of it can go today'),
    notices: z.array(z.string()),
  })
  .meta({ id: 'PickOrder' });
export type PickOrder = z.infer<typeof pickOrder>;

export const pickList = z.object({ on: isoDay, orders: z.array(pickOrder) }).meta({ id: 'PickList' });
export type PickList = z.infer<typeof pickList>;
