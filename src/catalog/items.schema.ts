import { z } from 'zod';
import { amount, amountInput, isoDay, itemCode, lineOfText, pageQuery, percentInput } from '../platform/schema.js';
import { FAMILIES, ITEM_KINDS, LOT_DATE_KINDS, MEASURES, POLICIES } from './item.entity.js';

export const lotDateKind = z.enum(LOT_DATE_KINDS).meta({ id: 'LotDateKind' });

export const policy = z.enum(POLICIES).meta({ id: 'Policy' });

export const family = z.enum(FAMILIES).meta({ id: 'Family' });

export const itemKind = z.enum(ITEM_KINDS).meta({ id: 'ItemKind' });

export const measure = z.enum(MEASURES).meta({ id: 'Measure' });

/** What things smell of, or how strongly, in the maker's own words. */
export const scent = z
  .string()
  .trim()
  .toLowerCase()
  .max(40)
  .regex(/^[\p{L}\p{N}][\p{L}\p{N} '&-]*$/u, 'must be 1 to 40 letters, digits or blanks, such as "heavy"')
  .meta({ id: 'Scent' });

const densityUgPerMl = z.int().min(100_000).max(25_000_000);

/** What a person may state and later change about an item. */
const stated = {
  family: family.optional(),
  scent: scent.nullable().optional().meta({ description: 'What vessels are washed by: "light", "heavy", "citrus"' }),
  density: lineOfText(40)
    .nullable()
    .optional()
    .meta({ description: 'Grams per millilitre, such as "0.81 g/ml"; or give densityUgPerMl, not both' }),
  densityUgPerMl: densityUgPerMl.nullable().optional().meta({ description: 'Micrograms per millilitre' }),
  policy: policy.optional(),
  target: amountInput.optional().meta({ description: 'What should lie on the shelf, for an item kept in stock' }),
  seasonFrom: isoDay.nullable().optional(),
  seasonTo: isoDay.nullable().optional(),
  stocked: z.boolean().optional().meta({ description: 'false for a material that is always there, such as tap water' }),
  lotDateKind: lotDateKind.optional(),
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

export const itemCreate = z
  .strictObject({
    code: itemCode,
    name: lineOfText(200),
    kind: itemKind,
    measure: measure,
    ...stated,
  })
  .meta({ id: 'ItemCreate' });
export type ItemCreate = z.infer<typeof itemCreate>;

export const itemPatch = z
  .strictObject({ name: lineOfText(200).optional(), measure: measure.optional(), ...stated })
  .refine((body) => Object.keys(body).length > 0, { error: 'Name at least one field to change.' })
  .meta({ id: 'ItemPatch' });
export type ItemPatch = z.infer<typeof itemPatch>;

export const itemQuery = pageQuery.extend({
  kind: itemKind.optional(),
  search: lineOfText(200).optional().meta({ description: 'A part of the code or the name' }),
});
export type ItemQuery = z.infer<typeof itemQuery>;

export const itemView = z
  .object({
    code: itemCode,
    name: z.string(),
    kind: itemKind,
    measure: measure,
    family: family,
    scent: scent.nullable(),
    densityUgPerMl: densityUgPerMl.nullable(),
    policy: policy,
    target: amount,
    seasonFrom: isoDay.nullable(),
    seasonTo: isoDay.nullable(),
    stocked: z.boolean(),
    lotDateKind: lotDateKind,
    shelfLifeDays: z.int().nullable(),
    owedLifeDays: z.int(),
    heel: amount,
    quarantinedOnArrival: z.boolean(),
    flammable: z.boolean(),
  })
  .meta({ id: 'ItemView' });
export type ItemView = z.infer<typeof itemView>;

export const itemPage = z
  .object({
    items: z.array(itemView),
    next: z.string().nullable().meta({ description: 'Give it as "after" for the next page; null on the last one' }),
  })
  .meta({ id: 'ItemPage' });
export type ItemPage = z.infer<typeof itemPage>;

export const useLimitCreate = z
  .strictObject({
    category: lineOfText(80),
    limit: percentInput.meta({ description: 'The largest part of the finished product: ppb, or text percent "1.5 %"' }),
    source: lineOfText(500).meta({
      description: "Where the figure stands, such as the supplier's certificate and its issue",
    }),
    dated: isoDay,
  })
  .meta({ id: 'UseLimitCreate' });
export type UseLimitCreate = z.infer<typeof useLimitCreate>;

export const useLimitView = z
  .object({
    category: z.string(),
    limitPpb: z.int(),
    source: z.string(),
    dated: isoDay,
  })
  .meta({ id: 'UseLimitView' });
export type UseLimitView = z.infer<typeof useLimitView>;
export const useLimitList = z.object({ useLimits: z.array(useLimitView) }).meta({ id: 'UseLimitList' });
