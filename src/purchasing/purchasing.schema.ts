import { z } from 'zod';
import {
  amount,
  amountInput,
  emailAddress,
  isoDay,
  nearDay,
  itemCode,
  lineOfText,
  longText,
  moneyE4,
  pageQuery,
  readableCode,
  whySaid,
} from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';
import { DELIVERY_STATUSES } from './purchasing.entity.js';

export const deliveryStatus = z.enum(DELIVERY_STATUSES).meta({ id: 'DeliveryStatus' });

const LINES_MAX = 200;
const TERMS_MOST_E4 = 10_000_000_000;
const packCode = lineOfText(80);
export const deliveryCode = readableCode;

const terms = {
  orderDays: z
    .array(z.int().min(0).max(6))
    .max(7)
    .describe('Weekdays on which they take orders, 0 Monday to 6 Sunday; none: any day'),
  minimumOrderE4: moneyE4.max(TERMS_MOST_E4).describe('The least worth of goods they send'),
  freightE4: moneyE4.max(TERMS_MOST_E4).describe('What a parcel costs'),
  freightFreeFromE4: moneyE4
    .max(TERMS_MOST_E4)
    .nullable()
    .describe('From this worth of goods on it is free; null: never'),
  email: z.union([z.literal(''), emailAddress]).meta({ id: 'EmailOrNone' }),
  account: longText(120).describe('Our number with them'),
  address: longText(500),
};
export const supplierCreate = z
  .strictObject({ code: readableCode, name: lineOfText(200) })
  .extend(z.object(terms).partial().shape)
  .meta({ id: 'SupplierCreate' });
export type SupplierCreate = z.infer<typeof supplierCreate>;
/** What is left out stays as it is. */
export const supplierChange = z
  .strictObject({ name: lineOfText(200) })
  .extend(terms)
  .partial()
  .meta({ id: 'SupplierChange' });
export type SupplierChange = z.infer<typeof supplierChange>;
export const supplierView = z
  .object({ code: readableCode, name: z.string() })
  .extend(terms)
  .extend({ email: z.string() })
  .meta({ id: 'SupplierView' });
export type SupplierView = z.infer<typeof supplierView>;
export const supplierList = z.object({ suppliers: z.array(supplierView) }).meta({ id: 'SupplierList' });

const priceBreak = z
  .strictObject({ fromPacks: z.int().min(2).max(100_000), priceE4: moneyE4 })
  .meta({ id: 'PriceBreak' });
const breaks = z
  .array(priceBreak)
  .max(20)
  .refine((rows) => new Set(rows.map(({ fromPacks }) => fromPacks)).size === rows.length, {
    error: 'each number of packs once',
  })
  .describe('So many packs or more at once cost this each, all of them');

export const packCreate = z
  .strictObject({
    supplier: readableCode,
    item: itemCode,
    code: packCode.describe("The supplier's own code of the pack"),
    size: amountInput.describe('What is in one pack'),
    priceE4: moneyE4.describe('Of one pack'),
    leastPacks: z.int().min(1).max(100_000).optional(),
    leadDays: z.int().min(0).max(1000).describe('Days from ordering until it arrives'),
    breaks: breaks.optional(),
  })
  .meta({ id: 'PackCreate' });
export type PackCreate = z.infer<typeof packCreate>;

export const packView = z
  .object({
    supplier: readableCode,
    item: itemCode,
    code: z.string(),
    size: amount,
    priceE4: moneyE4,
    leastPacks: z.int(),
    leadDays: z.int(),
    breaks,
    withdrawn: z.boolean(),
  })
  .meta({ id: 'PackView' });
export type PackView = z.infer<typeof packView>;

export const packPath = z.strictObject({ code: readableCode, pack: packCode });
export type PackPath = z.infer<typeof packPath>;
/** What is left out stays as it is. */
export const packChange = z
  .strictObject({
    priceE4: moneyE4.optional(),
    leastPacks: z.int().min(1).max(100_000).optional(),
    leadDays: z.int().min(0).max(1000).optional(),
    breaks: breaks.optional(),
    withdrawn: z.boolean().optional().describe('true: it is no longer sold'),
  })
  .meta({ id: 'PackChange' });
export type PackChange = z.infer<typeof packChange>;
export const packList = z.object({ packs: z.array(packView) }).meta({ id: 'PackList' });

export const packQuery = z.strictObject({ item: itemCode.optional(), supplier: readableCode.optional() });
export type PackQuery = z.infer<typeof packQuery>;

const deliveryLine = z
  .strictObject({
    item: itemCode,
    pack: packCode.optional().describe("The supplier's code of the pack, with packs"),
    packs: z.int().min(1).max(100_000).optional(),
    quantity: amountInput.optional().describe('Without a pack: how much comes'),
    costE4: moneyE4.optional().describe("Of the whole line; left out, the packs' price"),
    expiresOn: nearDay.nullable().optional().describe('If the supplier has told it'),
  })
  .refine((line) => (line.pack === undefined) === (line.packs === undefined), {
    error: 'pack and packs go together',
    path: ['packs'],
  })
  .refine((line) => (line.pack === undefined) !== (line.quantity === undefined), {
    error: 'give pack and packs, or quantity',
    path: ['quantity'],
  })
  .meta({ id: 'DeliveryLine' });

export const deliveryCreate = z
  .strictObject({
    code: deliveryCode,
    supplier: readableCode,
    orderedOn: isoDay.optional().describe('Lead times are learned from it'),
    expectedOn: isoDay,
    lines: z.array(deliveryLine).min(1).max(LINES_MAX),
  })
  .meta({ id: 'DeliveryCreate' });
export type DeliveryCreate = z.infer<typeof deliveryCreate>;
export type DeliveryLineCreate = DeliveryCreate['lines'][number];

export const deliveryQuery = pageQuery.extend({ status: deliveryStatus.optional() });
export type DeliveryQuery = z.infer<typeof deliveryQuery>;

export const deliveryView = z
  .object({
    code: z.string(),
    supplier: readableCode,
    status: deliveryStatus,
    orderedOn: isoDay.nullable(),
    expectedOn: isoDay,
    lines: z.array(
      z.object({
        line: z.int(),
        item: itemCode,
        pack: z.string().nullable(),
        packs: z.int().nullable(),
        quantity: amount,
        received: amount,
        promised: amount.describe('Reserved out of what is still to come'),
        costE4: moneyE4,
        expiresOn: isoDay.nullable(),
      }),
    ),
  })
  .meta({ id: 'DeliveryView' });
export type DeliveryView = z.infer<typeof deliveryView>;
export const deliveryPage = z
  .object({ deliveries: z.array(deliveryView), next: z.string().nullable() })
  .meta({ id: 'DeliveryPage' });
export type DeliveryPage = z.infer<typeof deliveryPage>;

const arrivedLot = z
  .strictObject({
    quantity: amountInput,
    code: readableCode.optional(),
    expiresOn: nearDay.nullable().optional().describe("Left out, the line's date, else from the item's shelf life"),
    supplierLot: longText(120).optional(),
    certificate: longText(500).optional(),
    place: longText(120).optional(),
  })
  .meta({ id: 'ArrivedLot' });

export const deliveryReceive = z
  .strictObject({
    receivedOn: nearDay.optional().describe('Today unless said; never a day to come'),
    lines: z
      .array(
        z.strictObject({
          line: z.int().min(1).max(LINES_MAX).describe('Number of the line in the delivery'),
          lots: z.array(arrivedLot).min(1).max(LINES_MAX),
          costE4: moneyE4.optional().describe('What these lots cost; left out, their share of the cost of the line'),
        }),
      )
      .min(1)
      .max(LINES_MAX),
    restStillComes: z.boolean().optional().describe('true keeps the delivery open for what is missing'),
  })
  .meta({ id: 'DeliveryReceive' });
export type DeliveryReceive = z.infer<typeof deliveryReceive>;

export const deliveryReceived = z
  .object({
    delivery: deliveryView,
    lots: z.array(z.object({ line: z.int(), lot: z.string(), quantity: amount, status: z.string() })),
    kept: z.int().describe('How many promises on the delivery now stand on the new lots'),
    broken: z.array(brokenPromise).describe('Promises that no longer fit: the next plan sees these needs again'),
  })
  .meta({ id: 'DeliveryReceived' });
export type DeliveryReceived = z.infer<typeof deliveryReceived>;

export const deliveryDate = z
  .strictObject({ expectedOn: isoDay, why: lineOfText(500).optional() })
  .meta({ id: 'DeliveryDate' });
export type DeliveryDate = z.infer<typeof deliveryDate>;

export const deliveryEnd = whySaid;
export type DeliveryEnd = z.infer<typeof deliveryEnd>;

export const deliveryDated = z
  .object({
    delivery: deliveryView,
    broken: z.array(brokenPromise).describe('Promises for a day before it can be used now'),
  })
  .meta({ id: 'DeliveryDated' });
export type DeliveryDated = z.infer<typeof deliveryDated>;
