import { z } from 'zod';
import { problemWith } from '../platform/problem-schema.js';
import { amount, amountInput, isoDay, itemCode, lineOfText, pageLimit } from '../platform/schema.js';
import { orderPath, orderStatus } from '../orders/orders.schema.js';
import { orderLineName } from '../stock/acts.schema.js';

const on = isoDay.optional().describe('Today unless said, never a day to come');

export const lotAndQuantity = z
  .strictObject({ lot: lineOfText(80), quantity: amountInput })
  .meta({ id: 'LotAndQuantity' });

export const shipmentCreate = orderPath
  .extend({
    on,
    lines: z
      .array(
        orderLineName
          .omit({ channel: true, number: true })
          .extend({
            lot: lineOfText(80).optional(),
            parts: z
              .array(lotAndQuantity)
              .min(1)
              .max(64)
              .optional()
              .describe('Instead of a lot, of a set that is put together now: of which lots'),
            quantity: amountInput,
          })
          .refine(({ lot, parts }) => (lot === undefined) !== (parts === undefined), {
            path: ['lot'],
            error: 'Name the lot it is of, or for a set that is put together now its parts.',
          }),
      )
      .min(1)
      .max(500),
  })
  .meta({ id: 'ShipmentCreate' });
export type ShipmentCreate = z.infer<typeof shipmentCreate>;

export const shipmentView = z
  .object({
    id: z.int(),
    channel: z.string(),
    number: z.string(),
    orderStatus: orderStatus,
    shippedOn: isoDay,
    createdBy: z.string(),
    lines: z.array(
      z.object({
        code: z.string(),
        occurrence: z.int(),
        item: itemCode,
        lot: z.string(),
        quantity: amount.describe('What left, corrections taken off'),
        movements: z.array(z.int()),
      }),
    ),
    notices: z.array(z.string()).describe('What carriers restrict'),
  })
  .meta({ id: 'ShipmentView' });
export type ShipmentView = z.infer<typeof shipmentView>;

export const shipmentQuery = z.strictObject({
  order: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,39}\/.{1,80}$/, 'must be a channel, a slash and an order number')
    .optional()
    .describe('Channel and number: webshop/1001'),
  limit: pageLimit,
  after: z.coerce.number().int().min(0).optional().describe('The last shipment of the page before'),
});
export type ShipmentQuery = z.infer<typeof shipmentQuery>;
export const shipmentPage = z
  .object({ shipments: z.array(shipmentView), next: z.int().nullable() })
  .meta({ id: 'ShipmentPage' });
export type ShipmentPage = z.infer<typeof shipmentPage>;

export const emptiesCreate = z
  .strictObject({
    item: itemCode.describe('A container'),
    quantity: amountInput,
    from: lineOfText(200)
      .optional()
      .describe('Who brought them: of a customer their number is kept, of anybody else nothing'),
    place: lineOfText(120).optional(),
    on,
  })
  .meta({ id: 'EmptiesCreate' });
export type EmptiesCreate = z.infer<typeof emptiesCreate>;

export const returnCreate = z
  .strictObject({
    orderLine: orderLineName,
    lot: lineOfText(80).describe('The lot it was shipped from'),
    quantity: amountInput,
    reason: lineOfText(500),
    place: lineOfText(120).optional().describe('Where it stands now'),
    on,
  })
  .meta({ id: 'ReturnCreate' });
export type ReturnCreate = z.infer<typeof returnCreate>;

export const shipmentProblem = problemWith('ShipmentProblem', {
  missing: z.array(z.string()).describe('unchecked: of a set that is put together now, what is still to be checked'),
  failed: z.array(z.string()).describe('unchecked: what is not good'),
});
