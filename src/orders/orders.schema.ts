import { z } from 'zod';
import { amount, amountInput, isoDay, itemCode, lineOfText, nearDay, pageQuery } from '../platform/schema.js';
import { ORDER_STATUSES } from './orders.entity.js';
import { saysPrecedence, WEIGHT_MAX } from './precedence.js';
import { CODE_LENGTH_MAX, NUMBER_LENGTH_MAX } from './rows.js';
import { SENDS } from './sends.js';

export const orderStatus = z.enum(ORDER_STATUSES).meta({ id: 'OrderStatus' });

export const channelCode = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'Write 1 to 40 small letters (a to z), digits or dashes, such as web-shop.')
  .meta({ id: 'ChannelCode', description: 'A channel, such as webshop' });

const orderNumber = lineOfText(NUMBER_LENGTH_MAX).describe('The order number as the channel gives it');
const shopCode = lineOfText(CODE_LENGTH_MAX).describe('The code as the shop writes it');
const next = z.string().nullable().describe('Give it as "after" for the next page; null on the last one');

const WEIGHT_SAID = `must be a whole number from 1 to ${WEIGHT_MAX}`;
export const orderWeight = z.int(WEIGHT_SAID).min(1, WEIGHT_SAID).max(WEIGHT_MAX, WEIGHT_SAID).meta({
  id: 'OrderWeight',
  description: 'For how much an order counts where not all can be in time: 1, or up to 100',
});
const ownWeight = orderWeight.nullable().describe('null: as its channel');
const urgent = z.boolean().describe('Goes before all that are not, whatever these weigh');

export const orderSends = z.enum(SENDS).meta({
  id: 'OrderSends',
  description:
    'lines: each when all of it is ready; complete: nothing before all of the order can go; parts: what is there first',
});
const ownSends = orderSends.nullable().describe('null: as its channel');

export const channelCreate = z
  .strictObject({
    code: channelCode,
    name: lineOfText(200),
    promiseDays: z.int().min(0).max(365).default(5).describe('Ship-by is so many days after placing, where not stated'),
    weight: orderWeight.default(1),
    sends: orderSends.default('lines'),
  })
  .meta({ id: 'ChannelCreate' });
export type ChannelCreate = z.infer<typeof channelCreate>;

export const channelChange = z
  .strictObject({ weight: orderWeight.optional(), sends: orderSends.optional() })
  .refine(({ weight, sends }) => weight !== undefined || sends !== undefined, 'says nothing to change')
  .meta({ id: 'ChannelChange' });
export type ChannelChange = z.infer<typeof channelChange>;

export const channelView = z
  .object({ code: channelCode, name: z.string(), promiseDays: z.int(), weight: orderWeight, sends: orderSends })
  .meta({ id: 'ChannelView' });
export type ChannelView = z.infer<typeof channelView>;
export const channelList = z.object({ channels: z.array(channelView) }).meta({ id: 'ChannelList' });

export const shopCodeSet = z
  .strictObject({
    channel: channelCode,
    code: shopCode,
    item: itemCode,
    units: z.int().min(1).max(100_000).default(1).describe('Units of the item in one: 3 for a three-pack'),
  })
  .meta({ id: 'ShopCodeSet' });
export type ShopCodeSet = z.infer<typeof shopCodeSet>;

export const shopCodeView = z
  .object({ channel: channelCode, code: z.string(), item: itemCode, units: z.int() })
  .meta({ id: 'ShopCodeView' });
export type ShopCodeView = z.infer<typeof shopCodeView>;
export const shopCodePage = z.object({ shopCodes: z.array(shopCodeView), next }).meta({ id: 'ShopCodePage' });
export type ShopCodePage = z.infer<typeof shopCodePage>;

export const shopCodeQuery = pageQuery.extend({ channel: channelCode.optional() });
export type ShopCodeQuery = z.infer<typeof shopCodeQuery>;

export const orderCreate = z
  .strictObject({
    channel: channelCode,
    number: orderNumber,
    customer: lineOfText(200).nullable().optional(),
    placedOn: nearDay.optional().describe('Today where not stated'),
    paid: z.boolean().default(true).describe('false: the order waits and is not planned until it is confirmed'),
    weight: ownWeight.optional(),
    urgent: urgent.optional(),
    sends: ownSends.optional(),
    lines: z
      .array(
        z.strictObject({
          code: shopCode.describe('A shop code of the channel, or an item code'),
          quantity: amountInput.describe('How many of that code: 2, or "3 dozen"'),
          shipBy: nearDay.optional(),
          notBefore: nearDay.optional(),
        }),
      )
      .min(1)
      .max(500),
  })
  .meta({ id: 'OrderCreate' });
export type OrderCreate = z.infer<typeof orderCreate>;

export const orderChange = z
  .strictObject({ weight: ownWeight.optional(), urgent: urgent.optional(), sends: ownSends.optional() })
  .refine((body) => saysPrecedence(body) || body.sends !== undefined, 'says nothing to change')
  .meta({ id: 'OrderChange' });
export type OrderChange = z.infer<typeof orderChange>;

const orderHead = {
  channel: channelCode,
  number: z.string(),
  customer: z.string().nullable(),
  placedOn: isoDay,
  status: orderStatus,
  weight: ownWeight,
  countsAs: orderWeight.describe("Its own weight, else its channel's"),
  urgent,
  sends: ownSends,
  sentAs: orderSends.describe("As it says itself, else as its channel's"),
};

export const orderView = z
  .object({
    ...orderHead,
    lines: z.array(
      z.object({
        code: z.string().describe('The code as the shop writes it'),
        occurrence: z.int().describe('Which of the lines with this code, counted from 1'),
        item: itemCode,
        quantity: amount,
        shipped: amount,
        cancelled: amount,
        open: amount,
        shipBy: isoDay,
        notBefore: isoDay.nullable(),
      }),
    ),
  })
  .meta({ id: 'OrderView' });
export type OrderView = z.infer<typeof orderView>;

export const orderSummary = z
  .object({
    ...orderHead,
    lines: z.int(),
    open: amount.describe('Units of all lines neither shipped nor cancelled'),
    shipBy: isoDay.nullable().describe('The earliest of the open lines'),
  })
  .meta({ id: 'OrderSummary' });
export const orderPage = z.object({ orders: z.array(orderSummary), next }).meta({ id: 'OrderPage' });
export type OrderPage = z.infer<typeof orderPage>;

export const orderQuery = pageQuery.extend({
  status: orderStatus.optional(),
  channel: channelCode.optional(),
  search: lineOfText(200).optional().describe('A part of the number, the customer, a shop code or an item code'),
});
export type OrderQuery = z.infer<typeof orderQuery>;

export const orderPath = z.strictObject({ channel: channelCode, number: orderNumber });
export const orderName = orderPath.meta({ id: 'OrderName' });
export type OrderPath = z.infer<typeof orderPath>;
