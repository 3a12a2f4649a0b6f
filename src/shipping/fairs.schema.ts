import { z } from 'zod';
import { lotAndQuantity } from './shipping.schema.js';
import { amount, isoDay, itemCode, lineOfText } from '../platform/schema.js';

export const fairName = lineOfText(80).describe('The name of a fair, a market, a stall');
const on = isoDay.optional().describe('Today unless said, never a day to come');

export const takeAlong = z
  .strictObject({
    place: lineOfText(120).describe('Where the goods stand meanwhile'),
    until: isoDay.describe('Its last day'),
    lots: z.array(lotAndQuantity).min(1).max(200),
    on,
  })
  .meta({ id: 'TakeAlong' });
export type TakeAlong = z.infer<typeof takeAlong>;

export const fairSale = z.strictObject({ lots: z.array(lotAndQuantity).min(1).max(200), on }).meta({ id: 'FairSale' });
export type FairSale = z.infer<typeof fairSale>;

export const bringBack = z
  .strictObject({
    place: lineOfText(120).optional().describe('Where they came from unless said'),
  })
  .meta({ id: 'BringBack' });
export type BringBack = z.infer<typeof bringBack>;

export const fairView = z
  .object({
    name: z.string(),
    until: isoDay,
    isOver: z.boolean().describe('What was not sold is back'),
    lots: z.array(
      z.object({
        lot: z.string().describe('Of its own while it is there'),
        from: z.string().nullable().describe('The lot it was taken from'),
        item: itemCode,
        name: z.string(),
        place: z.string(),
        taken: amount,
        sold: amount,
        left: amount,
        expiresOn: isoDay.nullable(),
        isFlammable: z.boolean(),
      }),
    ),
  })
  .meta({ id: 'FairView' });
export type FairView = z.infer<typeof fairView>;
export const fairList = z
  .object({
    fairs: z.array(z.object({ name: z.string(), until: isoDay, isOver: z.boolean() })),
  })
  .meta({ id: 'FairList' });
export type FairList = z.infer<typeof fairList>;
