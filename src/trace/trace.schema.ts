import { z } from 'zod';
import { FAMILIES } from '../catalog/item.entity.js';
import { amount, isoDay, itemCode, lineOfText } from '../platform/schema.js';
import { LOT_STATUSES } from '../stock/stock.entity.js';

export const lotCode = lineOfText(80);

export const traceQuery = z.strictObject({
  direction: z.enum(['back', 'forward', 'both']).default('both').describe('To its sources, to where it went, or both'),
});
export type TraceQuery = z.infer<typeof traceQuery>;

const tracedLot = z.object({
  code: z.string(),
  item: itemCode,
  name: z.string(),
  kind: z.enum(['material', 'bulk', 'product', 'set']),
  measure: z.enum(['weighed', 'counted']),
  family: z.enum(FAMILIES),
  status: z.enum(LOT_STATUSES),
  onHand: amount,
  reserved: amount,
  place: z.string(),
  cameOn: isoDay,
  expiresOn: isoDay.nullable(),
  supplier: z.string().nullable(),
  supplierLot: z.string(),
  certificate: z.string(),
  parentLot: z.string().nullable(),
  layer: z.int().describe('Nothing stands on a lower layer than what it comes of'),
});
export type TracedLot = z.infer<typeof tracedLot>;

const tracedBatch = z.object({
  code: z.string(),
  item: itemCode,
  day: isoDay,
  vessel: z.string().nullable(),
  status: z.string(),
  isRework: z.boolean(),
  made: amount.nullable(),
  putInMg: amount.nullable(),
  lossMg: z.int().nullable(),
  layer: z.int(),
});
export type TracedBatch = z.infer<typeof tracedBatch>;

const tracedDelivery = z.object({
  code: z.string(),
  supplier: z.string(),
  lot: z.string(),
  receivedOn: isoDay,
  quantity: amount,
});
export type TracedDelivery = z.infer<typeof tracedDelivery>;

export const parcel = z.object({
  lot: z.string(),
  item: itemCode,
  channel: z.string(),
  number: z.string(),
  customer: z.string().nullable(),
  shipment: z.int().nullable(),
  shippedOn: isoDay,
  quantity: amount,
  returned: amount.describe('Of it, what came back'),
});
export type Parcel = z.infer<typeof parcel>;

const LINK_KINDS = ['received', 'used', 'made', 'left over', 'split', 'returned', 'shipped'] as const;

const tracedLink = z.object({
  from: z.string().describe('A key: lot, batch, delivery or order, a colon, and its code'),
  to: z.string(),
  kind: z.enum(LINK_KINDS),
  quantity: amount.describe("In the base unit of the lot's item, corrections taken off"),
});
export type TracedLink = z.infer<typeof tracedLink>;

export const traceView = z.object({
  lot: z.string(),
  direction: z.enum(['back', 'forward', 'both']),
  isWhole: z.boolean().describe('false: it is larger than one answer holds, and cut off'),
  lots: z.array(tracedLot),
  batches: z.array(tracedBatch),
  deliveries: z.array(tracedDelivery),
  parcels: z.array(parcel),
  links: z.array(tracedLink),
});
export type TraceView = z.infer<typeof traceView>;

const sharedGroup = z.object({
  by: z.enum(['delivery', 'material', 'day', 'vessel', 'person']),
  what: z.string().describe('The delivery, the lot, the day, the vessel or the person that is shared'),
  name: z.string(),
  count: z.int().describe('How many other lots share it'),
  lots: z
    .array(z.object({ code: z.string(), item: itemCode, onHand: amount, status: z.enum(LOT_STATUSES) }))
    .describe('The newest of them'),
});
export const sharesView = z.object({ lot: z.string(), shares: z.array(sharedGroup) });
export type SharesView = z.infer<typeof sharesView>;
export type SharedGroup = SharesView['shares'][number];
