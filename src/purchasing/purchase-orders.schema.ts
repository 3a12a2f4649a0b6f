import { z } from 'zod';
import {
  amount,
  isoDay,
  itemCode,
  lineOfText,
  longText,
  moneyE4,
  pageQuery,
  readableCode,
} from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';
import { DELIVERY_STATUSES } from './purchasing.entity.js';

const LINES_MAX = 200;
const FREIGHT_MOST_E4 = 10_000_000_000;
const packs = z.int().min(1).max(100_000);
const freightE4 = moneyE4.max(FREIGHT_MOST_E4).describe('Of the parcel; shared over the lines by their worth');
export const purchaseOrderCode = readableCode;

/** How an order reached the supplier. */
export const SENT_BY = ['email', 'download', 'web', 'telephone', 'other'] as const;

/** `partly-received` and `received` follow from its deliveries. */
export const PURCHASE_STATUSES = ['draft', 'sent', 'confirmed', 'partly-received', 'received', 'cancelled'] as const;
export type PurchaseStatus = (typeof PURCHASE_STATUSES)[number];

const lines = z
  .array(
    z.strictObject({
      pack: lineOfText(80).describe("The supplier's code of the pack"),
      packs,
      priceE4: moneyE4.optional().describe('Of one pack; left out, what is known of it for so many'),
    }),
  )
  .min(1)
  .max(LINES_MAX)
  .refine((rows) => new Set(rows.map(({ pack }) => pack)).size === rows.length, { error: 'each pack once' });

export const purchaseOrderCreate = z.strictObject({
  supplier: readableCode,
  lines,
  note: longText(2000).optional(),
  freightE4: freightE4.optional().describe("Left out, by the supplier's terms"),
});
export type PurchaseOrderCreate = z.infer<typeof purchaseOrderCreate>;

/** What is left out stays as it is. */
export const purchaseOrderChange = z.strictObject({
  lines: lines.optional(),
  note: longText(2000).optional(),
  freightE4: freightE4.optional(),
});
export type PurchaseOrderChange = z.infer<typeof purchaseOrderChange>;

export const purchaseOrderSend = z.strictObject({
  sentOn: isoDay.optional().describe('Today unless said; never a day to come'),
  sentBy: z.enum(SENT_BY),
});
export type PurchaseOrderSend = z.infer<typeof purchaseOrderSend>;

export const purchaseOrderEmail = z.strictObject({
  to: z.email().max(254).optional().describe("Left out, the supplier's address; kept as that where none is known"),
});
export type PurchaseOrderEmail = z.infer<typeof purchaseOrderEmail>;

export const purchaseOrderConfirm = z.strictObject({
  expectedOn: isoDay.describe('When it comes, where a line says nothing else'),
  reference: longText(120).optional().describe("The supplier's own number of it"),
  freightE4: freightE4.optional(),
  takePrices: z.boolean().optional().describe('true keeps changed prices for the next orders'),
  lines: z
    .array(
      z.strictObject({
        line: z.int().min(1).max(LINES_MAX),
        priceE4: moneyE4.optional().describe('Of one pack, where it differs from what was asked for'),
        parts: z
          .array(z.strictObject({ packs, expectedOn: isoDay }))
          .max(10)
          .optional()
          .describe('What comes when; nothing in it: it is not sent at all; left out: all of it on that day'),
      }),
    )
    .max(LINES_MAX)
    .optional()
    .describe('Lines that are confirmed otherwise than asked for'),
});
export type PurchaseOrderConfirm = z.infer<typeof purchaseOrderConfirm>;

export const purchaseOrderFreight = z.strictObject({ freightE4 });
export type PurchaseOrderFreight = z.infer<typeof purchaseOrderFreight>;

export const purchaseOrderCancel = z.strictObject({ why: lineOfText(500) });
export type PurchaseOrderCancel = z.infer<typeof purchaseOrderCancel>;

const purchaseLine = z.object({
  line: z.int(),
  item: itemCode,
  name: z.string(),
  measure: z.enum(['weighed', 'counted']),
  pack: z.string(),
  size: amount.describe('In one pack'),
  packs: z.int(),
  priceE4: moneyE4.describe('Of one pack, as ordered'),
  priceNowE4: moneyE4.describe('What is known of the pack now, for so many'),
  confirmedPriceE4: moneyE4.nullable(),
  confirmedPacks: z.int().nullable().describe('Null until it is confirmed'),
  received: amount,
  toCome: amount.describe('Confirmed and neither here nor given up'),
  landedE4: moneyE4.nullable().describe('What is confirmed of it with its share of the freight'),
});

export const purchaseOrderView = z.object({
  code: readableCode,
  supplier: readableCode,
  supplierName: z.string(),
  supplierEmail: z.string(),
  status: z.enum(PURCHASE_STATUSES),
  note: z.string(),
  freightE4: moneyE4,
  sentOn: isoDay.nullable(),
  sentBy: z.enum(SENT_BY).nullable(),
  letter: z
    .object({
      message: z.uuid().describe('Its message id, the same for every try'),
      to: z.string(),
      status: z.enum(['waiting', 'handed', 'sent', 'dropped', 'given-up']),
      error: z.string(),
    })
    .nullable()
    .describe('The email it went out in, if it was sent from here'),
  reference: z.string(),
  createdOn: isoDay,
  createdBy: z.string(),
  lines: z.array(purchaseLine),
  goodsE4: moneyE4,
  deliveries: z.array(
    z.object({
      code: z.string(),
      status: z.enum(DELIVERY_STATUSES),
      expectedOn: isoDay,
      lines: z.array(z.object({ line: z.int(), of: z.int(), packs: z.int(), quantity: amount, received: amount })),
    }),
  ),
});
export type PurchaseOrderView = z.infer<typeof purchaseOrderView>;

export const purchaseOrderQuery = pageQuery.extend({
  status: z.enum(PURCHASE_STATUSES).optional(),
  supplier: readableCode.optional(),
});
export type PurchaseOrderQuery = z.infer<typeof purchaseOrderQuery>;
export const purchaseOrderPage = z.object({ orders: z.array(purchaseOrderView), next: z.string().nullable() });
export type PurchaseOrderPage = z.infer<typeof purchaseOrderPage>;

export const purchaseOrderCancelled = z.object({
  order: purchaseOrderView,
  broken: z.array(brokenPromise).describe('Promises on what no longer comes: the next plan sees these needs again'),
});
export type PurchaseOrderCancelled = z.infer<typeof purchaseOrderCancelled>;
