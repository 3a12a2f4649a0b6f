import { z } from 'zod';
import { measure } from '../catalog/items.schema.js';
import { METHODS } from '../kernel/buy/forecast-methods.js';
import { amount, isoDay, itemCode, moneyE4, partsPpb, percentUpTo, readableCode } from '../platform/schema.js';

const dayOrNull = isoDay.nullable();
const expected = z.number().describe("In the item's base unit, not whole");

const forecastMethod = z.enum(METHODS).meta({
  id: 'ForecastMethodName',
  description: 'rare-use: Croston with the correction of Syntetos and Boylan',
});
const method = z
  .object({
    method: forecastMethod,
    alpha: z.number().nullable(),
    spreadWeeks: z.int().nullable(),
  })
  .meta({ id: 'ForecastMethod' });

export const SAID_BY = ['like', 'estimate', 'planned'] as const;

const saidShare = z
  .object({
    by: z
      .enum(SAID_BY)
      .describe(
        'like: use of another item; estimate: what somebody takes it to be; planned: what orders and batches take',
      )
      .meta({ id: 'SaidBy' }),
    like: itemCode.nullable(),
    weekly: expected.describe('What it says of the coming week'),
    ownShare: z.number().min(0).max(1).describe("For how much the item's own weeks count beside it"),
  })
  .meta({ id: 'SaidShare' });

export const forecastSchema = method
  .extend({
    weekly: expected.describe('Expected use of the coming week'),
    pattern: z.enum(['smooth', 'erratic', 'intermittent', 'lumpy']),
    weeksOfHistory: z.int(),
    said: saidShare.nullable().describe("Null where only the item's own weeks speak"),
    horizonWeeks: z.int().describe('Weeks whose sum was forecast when the methods were judged'),
    origins: z.int().describe('How many times; 0 where the history is too short to judge any'),
    rmse: expected.nullable().describe('Root mean square error of these sums'),
    naiveRmse: expected.nullable().describe('Of the last week again'),
    seasonalNaiveRmse: expected.nullable().describe('Of the same weeks a year before; null without enough of them'),
  })
  .meta({ id: 'Forecast' });

export const reorderRowSchema = z
  .object({
    item: z.string(),
    name: z.string(),
    family: z.string(),
    measure: measure,
    free: amount.describe('Usable now and not reserved'),
    onTheWay: amount,
    expectedUse: amount.describe('Planned needs and, beyond them, past use, until the last day looked at'),
    keep: amount.describe('What should be left: the safety stock, or a target where that is more'),
    safety: amount.describe('For use and lead times that stray'),
    freeByDay: z
      .array(z.int())
      .describe('Free at the end of each day from today on; below zero is what would be short'),
    lowByDay: z.array(z.int()).describe('Nine times in ten no less than this is free'),
    highByDay: z.array(z.int()).describe('Nine times in ten no more than this is free'),
    runsOutOn: dayOrNull.describe('First day less than should be kept is free'),
    shortOn: dayOrNull.describe('First day something would be short, if nothing is ordered'),
    lost: amount.describe('What expires unused until the last day looked at'),
    wanted: amount,
    orderBy: dayOrNull.describe('Last day to order and still be in time'),
    overdue: z.boolean(),
    due: z.boolean().describe('To be ordered before the next look, or along with what is'),
    arrivesOn: dayOrNull.describe('If it is ordered on its last day, or today where that is past'),
    supplier: z.string().nullable(),
    leadDays: z.int().nullable().describe('Learned from deliveries, as far as there were any'),
    leadDeviationDays: z.number().nullable(),
    deliveries: z.int().describe('Deliveries the lead time was learned from'),
    receivingDays: z.int(),
    trialDays: z.int(),
    packs: z.array(z.object({ key: z.string(), count: z.int(), priceE4: moneyE4.describe('Of one pack') })),
    packsTotal: amount,
    costE4: moneyE4,
    gapE4: moneyE4.describe('How far from the cheapest the packs may be, at most; 0 is exact'),
    limitedBy: z.enum(['shelf-life', 'smallest-pack']).nullable().describe('Why it is not simply what is wanted'),
    wasted: amount.describe('What of it is expected to be left when it expires'),
    wasteE4: moneyE4,
    forecast: forecastSchema.nullable().describe('Null without enough history, and where nothing else speaks'),
    ifNot: z.object({
      needOn: dayOrNull.describe('First day something planned would be missing'),
      orders: z.array(z.object({ key: z.string(), shipBy: isoDay })),
      batches: z.array(z.object({ key: z.string(), day: dayOrNull })),
    }),
  })
  .meta({ id: 'ReorderRow' });

export const supplierOrderSchema = z
  .object({
    supplier: z.string(),
    name: z.string(),
    draft: z.string().nullable().describe('An open purchase order to add it to'),
    orderBy: isoDay,
    lines: z.array(
      z.object({
        item: z.string(),
        orderBy: isoDay,
        early: z.boolean().describe('Comes along because it is cheaper'),
        drafted: z.boolean().describe('It is on that draft already'),
      }),
    ),
    goodsE4: moneyE4,
    freightE4: moneyE4,
    belowMinimumE4: moneyE4.describe('What is missing to the least they send'),
  })
  .meta({ id: 'SupplierOrder' });

export const reorderSchema = z
  .object({
    today: z.string(),
    reviewDays: z.int().describe('Days until the list is looked at again'),
    rows: z.array(reorderRowSchema).describe('Fragrances first, then by family; within, by the last day to order'),
    orders: z.array(supplierOrderSchema).describe('What to order together, by day'),
  })
  .meta({ id: 'Reorder' });
export type ReorderRow = z.infer<typeof reorderRowSchema>;
export type ReorderList = z.infer<typeof reorderSchema>;
export type SupplierOrderView = z.infer<typeof supplierOrderSchema>;

export const itemOutlookSchema = z
  .object({
    today: z.string(),
    row: reorderRowSchema.nullable().describe('Null where nothing has to be ordered'),
    history: z.array(amount).describe('Use of whole weeks, oldest first'),
    forecast: forecastSchema.nullable(),
    errors: z.array(method.extend({ rmse: expected })).describe('Every method judged, best first'),
    weekly: z.array(expected).describe('Expected use of each of the next 13 weeks'),
  })
  .meta({ id: 'ItemOutlook' });
export type ItemOutlook = z.infer<typeof itemOutlookSchema>;

export const reorderDraft = z
  .strictObject({
    supplier: readableCode,
    items: z.array(itemCode).min(1).max(200).optional().describe('Left out: all that is due, and what comes along'),
  })
  .meta({ id: 'ReorderDraft' });
export type ReorderDraft = z.infer<typeof reorderDraft>;

export const SERVICE_KINDS = ['fill-rate', 'cycle', 'none'] as const;
const SERVICE_LEAST_PPB = 500_000_000;
const SERVICE_MOST_PPB = 999_900_000;
const serviceKind = z
  .enum(SERVICE_KINDS)
  .describe('fill-rate: of the amount used, what is there; cycle: of the orders, those before which nothing runs short')
  .meta({ id: 'ServiceKind' });
const service = percentUpTo(SERVICE_MOST_PPB)
  .refine((ppb) => ppb >= SERVICE_LEAST_PPB, {
    error: 'must be from 50 % to 99.99 %',
  })
  .meta({ id: 'ServiceSent' });

export const settingsPut = z
  .strictObject({
    serviceKind,
    service,
    reviewDays: z.int().min(1).max(60),
    orderCostE4: z.int().min(0).max(100_000_000).describe('What the work of one order line costs'),
    coverMostDays: z.int().min(1).max(365).describe('The longest an order should last'),
  })
  .meta({ id: 'ReorderSettingsPut' });
export type SettingsPut = z.infer<typeof settingsPut>;
export const settingsView = z
  .object({
    serviceKind,
    servicePpb: partsPpb,
    reviewDays: z.int(),
    orderCostE4: moneyE4,
    coverMostDays: z.int(),
  })
  .meta({ id: 'ReorderSettingsView' });
export type SettingsView = z.infer<typeof settingsView>;

export const rulePut = z
  .strictObject({
    serviceKind: serviceKind.nullable().describe("Null: the workshop's"),
    service: service.nullable().optional(),
    trialDays: z.int().min(0).max(365).optional().describe('Days of an own trial of what came, before it is used'),
  })
  .refine(({ serviceKind: kind, service: share }) => kind === null || kind === 'none' || typeof share === 'number', {
    error: 'say how much',
    path: ['service'],
  })
  .meta({ id: 'ReorderRulePut' });
export type RulePut = z.infer<typeof rulePut>;
export const ruleView = z
  .object({
    item: itemCode,
    serviceKind: serviceKind.nullable(),
    servicePpb: partsPpb.nullable(),
    trialDays: z.int(),
  })
  .meta({ id: 'ReorderRuleView' });
export type RuleView = z.infer<typeof ruleView>;
