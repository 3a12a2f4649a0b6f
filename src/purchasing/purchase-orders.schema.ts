import { z } from 'zod';
import { deliveryStatus } from './purchasing.schema.js';
import { measure } from '../catalog/items.schema.js';
import {
  amount,
  emailAddress,
  isoDay,
  itemCode,
  lineOfText,
  longText,
  messageId,
  moneyE4,
  pageQuery,
  readableCode,
  whySaid,
} from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';

const LINES_MAX = 200;
const FREIGHT_MOST_E4 = 10_000_000_000;
const packs = z.int().min(1).max(100_000);
const freightE4 = moneyE4.max(FREIGHT_MOST_E4).describe('Of the parcel; shared over the lines by their worth');
export const purchaseOrderCode = readableCode;

/** How an order reached the supplier. */
export const SENT_BY = ['email', 'download', 'web', 'telephone', 'other'] as const;
export const sentBy = z.enum(SENT_BY).meta({ id: 'SentBy' });

/** `partly-received` and `received` follow from its deliveries. */
export const PURCHASE_STATUSES = ['draft', 'sent', 'confirmed', 'partly-received', 'received', 'cancelled'] as const;
export type PurchaseStatus = (typeof PURCHASE_STATUSES)[number];
export const purchaseStatus = z.enum(PURCHASE_STATUSES).meta({ id: 'PurchaseStatus' });

const packOrdered = z
  .strictObject({
    pack: lineOfText(80).describe("The supplier's code of the pack"),
    packs,
    priceE4: moneyE4.optional().describe('Of one pack; left out, what is known of it for so many'),
  })
  .meta({ id: 'PackOrdered' });
const lines = z
  .array(packOrdered)
  .min(1)
  .max(LINES_MAX)
  .refine((rows) => new Set(rows.map(({ pack }) => pack)).size === rows.length, { error: 'each pack once' });

export const purchaseOrderCreate = z
  .strictObject({
    supplier: readableCode,
    lines,
    note: longText(2000).optional(),
    freightE4: freightE4.optional().describe("Left out, by the supplier's terms"),
  })
  .meta({ id: 'PurchaseOrderCreate' });
export type PurchaseOrderCreate = z.infer<typeof purchaseOrderCreate>;

/** What is left out stays as it is. */
export const purchaseOrderChange = z
  .strictObject({
    lines: lines.optional(),
    note: longText(2000).optional(),
    freightE4: freightE4.optional(),
  })
  .meta({ id: 'PurchaseOrderChange' });
export type PurchaseOrderChange = z.infer<typeof purchaseOrderChange>;

export const purchaseOrderSend = z
  .strictObject({
    sentOn: isoDay.optional().describe('Today unless said; never a day to come'),
    sentBy: sentBy,
  })
  .meta({ id: 'PurchaseOrderSend' });
export type PurchaseOrderSend = z.infer<typeof purchaseOrderSend>;

export const purchaseOrderEmail = z
  .strictObject({
    to: emailAddress.optional().describe("Left out, the supplier's address; kept as that where none is known"),
  })
  .meta({ id: 'PurchaseOrderEmail' });
export type PurchaseOrderEmail = z.infer<typeof purchaseOrderEmail>;

export const purchaseOrderConfirm = z
  .strictObject({
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
  })
  .meta({ id: 'PurchaseOrderConfirm' });
export type PurchaseOrderConfirm = z.infer<typeof purchaseOrderConfirm>;

export const purchaseOrderFreight = z.strictObject({ freightE4 }).meta({ id: 'PurchaseOrderFreight' });
export type PurchaseOrderFreight = z.infer<typeof purchaseOrderFreight>;

export const purchaseOrderCancel = whySaid;
export type PurchaseOrderCancel = z.infer<typeof purchaseOrderCancel>;

const purchaseLine = z
  .object({
    line: z.int(),
    item: itemCode,
    name: z.string(),
    measure: measure,
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
  })
  .meta({ id: 'PurchaseLine' });

export const purchaseOrderView = z
  .object({
    code: readableCode,
    supplier: readableCode,
    supplierName: z.string(),
    supplierEmail: z.string(),
    status: purchaseStatus,
    note: z.string(),
    freightE4: moneyE4,
    sentOn: isoDay.nullable(),
    sentBy: sentBy.nullable(),
    letter: z
      .object({
        message: messageId.describe('Its message id, the same for every try'),
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
        status: deliveryStatus,
        expectedOn: isoDay,
        lines: z.array(z.object({ line: z.int(), of: z.int(), packs: z.int(), quantity: amount, received: amount })),
      }),
    ),
  })
  .meta({ id: 'PurchaseOrderView' });
export type PurchaseOrderView = z.infer<typeof purchaseOrderView>;

export const purchaseOrderQuery = pageQuery.extend({
  status: purchaseStatus.optional(),
  supplier: readableCode.optional(),
});
export type PurchaseOrderQuery = z.infer<typeof purchaseOrderQuery>;
export const purchaseOrderPage = z
  .object({ orders: z.array(purchaseOrderView), next: z.string().nullable() })
  .meta({ id: 'PurchaseOrderPage' });
export type PurchaseOrderPage = z.infer<typeof purchaseOrderPage>;

export const purchaseOrderCancelled = z
  .object({
    order: purchaseOrderView,
    broken: z.array(brokenPromise).describe('Promises on what no longer comes: the next plan sees these needs again'),
  })
  .meta({ id: 'PurchaseOrderCancelled' });
export type PurchaseOrderCancelled = z.infer<typeof purchaseOrderCancelled>;
