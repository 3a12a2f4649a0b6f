import { z } from 'zod';
import { amount, amountInput, isoDay, itemCode, lineOfText, pageQuery, percentInput } from '../platform/schema.js';
import { FAMILIES, ITEM_KINDS, LOT_DATE_KINDS, MEASURES, POLICIES } from './item.entity.js';

const densityUgPerMl = z.int().min(100_000).max(25_000_000);

/** What a person may state and later change about an item. */
const stated = {
  family: z.enum(FAMILIES).optional(),
  density: lineOfText(40)
    .nullable()
    .optional()
    .meta({ description: 'Grams per millilitre, such as "0.81 g/ml"; or give densityUgPerMl, not both' }),
  densityUgPerMl: densityUgPerMl.nullable().optional().meta({ description: 'Micrograms per millilitre' }),
  policy: z.enum(POLICIES).optional(),
  target: amountInput.optional().meta({ description: 'What should lie on the shelf, for an item kept in stock' }),
  seasonFrom: isoDay.nullable().optional(),
  seasonTo: isoDay.nullable().optional(),
  stocked: z.boolean().optional().meta({ description: 'false for a material that is always there, such as tap water' }),
  lotDateKind: z.enum(LOT_DATE_KINDS).optional(),
  shelfLifeDays: z.int().min(1).max(36_500).nullable().optional(),
  owedLifeDays: z
    .int()
    .min(0)
    .max(36_500)
    .optional()
    .meta({ description: 'Days of life a customer is owed at shipping' }),
  heel: amountInput.optional().meta({ description: 'What stays in a container and can never be used' }),
  quarantinedOnArrival: z.boolean().optional(),
  flammable: z.boolean().optional(),
};

export const itemCreate = z.strictObject({
  code: itemCode,
  name: lineOfText(200),
  kind: z.enum(ITEM_KINDS),
  measure: z.enum(MEASURES),
  ...stated,
});
export type ItemCreate = z.infer<typeof itemCreate>;

export const itemPatch = z
  .strictObject({ name: lineOfText(200).optional(), measure: z.enum(MEASURES).optional(), ...stated })
  .refine((body) => Object.keys(body).length > 0, { error: 'Name at least one field to change.' });
export type ItemPatch = z.infer<typeof itemPatch>;

export const itemQuery = pageQuery.extend({
  kind: z.enum(ITEM_KINDS).optional(),
  search: lineOfText(200).optional().meta({ description: 'A part of the code or the name' }),
});
export type ItemQuery = z.infer<typeof itemQuery>;

export const itemView = z.object({
  code: itemCode,
  name: z.string(),
  kind: z.enum(ITEM_KINDS),
  measure: z.enum(MEASURES),
  family: z.enum(FAMILIES),
  densityUgPerMl: densityUgPerMl.nullable(),
  policy: z.enum(POLICIES),
  target: amount,
  seasonFrom: isoDay.nullable(),
  seasonTo: isoDay.nullable(),
  stocked: z.boolean(),
  lotDateKind: z.enum(LOT_DATE_KINDS),
  shelfLifeDays: z.int().nullable(),
  owedLifeDays: z.int(),
  heel: amount,
  quarantinedOnArrival: z.boolean(),
  flammable: z.boolean(),
});
export type ItemView = z.infer<typeof itemView>;

export const itemPage = z.object({
  items: z.array(itemView),
  next: z.string().nullable().meta({ description: 'Give it as "after" for the next page; null on the last one' }),
});
export type ItemPage = z.infer<typeof itemPage>;

export const useLimitCreate = z.strictObject({
  category: lineOfText(80),
  limit: percentInput.meta({ description: 'The largest part of the finished product: ppb, or text percent "1.5 %"' }),
  source: lineOfText(500).meta({
    description: "Where the figure stands, such as the supplier's certificate and its issue",
  }),
  dated: isoDay,
});
export type UseLimitCreate = z.infer<typeof useLimitCreate>;

export const useLimitView = z.object({
  category: z.string(),
  limitPpb: z.int(),
  source: z.string(),
  dated: isoDay,
});
export type UseLimitView = z.infer<typeof useLimitView>;
export const useLimitList = z.object({ useLimits: z.array(useLimitView) });
