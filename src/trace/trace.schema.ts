import { z } from 'zod';
import { lotStatus } from '../stock/stock.schema.js';
import { family, itemKind, measure } from '../catalog/items.schema.js';
import { amount, isoDay, itemCode, lineOfText } from '../platform/schema.js';

export const traceDirection = z.enum(['back', 'forward', 'both']).meta({ id: 'TraceDirection' });

export const lotCode = lineOfText(80);

export const traceQuery = z.strictObject({
  direction: traceDirection.default('both').describe('To its sources, to where it went, or both'),
});
export type TraceQuery = z.infer<typeof traceQuery>;

const tracedLot = z
  .object({
    code: z.string(),
    item: itemCode,
    name: z.string(),
    kind: itemKind,
    measure: measure,
    family: family,
    status: lotStatus,
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
  })
  .meta({ id: 'TracedLot' });
export type TracedLot = z.infer<typeof tracedLot>;

const tracedBatch = z
  .object({
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
  })
  .meta({ id: 'TracedBatch' });
export type TracedBatch = z.infer<typeof tracedBatch>;

const tracedDelivery = z
  .object({
    code: z.string(),
    supplier: z.string(),
    lot: z.string(),
    receivedOn: isoDay,
    quantity: amount,
  })
  .meta({ id: 'TracedDelivery' });
export type TracedDelivery = z.infer<typeof tracedDelivery>;

export const parcel = z
  .object({
    lot: z.string(),
    item: itemCode,
    channel: z.string(),
    number: z.string(),
    customer: z.string().nullable(),
    shipment: z.int().nullable(),
    shippedOn: isoDay,
    quantity: amount,
    returned: amount.describe('Of it, what came back'),
  })
  .meta({ id: 'Parcel' });
export type Parcel = z.infer<typeof parcel>;

const LINK_KINDS = ['received', 'used', 'made', 'left over', 'split', 'returned', 'shipped'] as const;

const tracedLink = z
  .object({
    from: z.string().describe('A key: lot, batch, delivery or order, a colon, and its code'),
    to: z.string(),
    kind: z.enum(LINK_KINDS),
    quantity: amount.describe("In the base unit of the lot's item, corrections taken off"),
  })
  .meta({ id: 'TracedLink' });
export type TracedLink = z.infer<typeof tracedLink>;

export const traceView = z
  .object({
    lot: z.string(),
    direction: traceDirection,
    isWhole: z.boolean().describe('false: it is larger than one answer holds, and cut off'),
    lots: z.array(tracedLot),
    batches: z.array(tracedBatch),
    deliveries: z.array(tracedDelivery),
    parcels: z.array(parcel),
    links: z.array(tracedLink),
  })
  .meta({ id: 'TraceView' });
export type TraceView = z.infer<typeof traceView>;

const sharedGroup = z
  .object({
    by: z.enum(['delivery', 'material', 'day', 'vessel', 'person']),
    what: z.string().describe('The delivery, the lot, the day, the vessel or the person that is shared'),
    name: z.string(),
    count: z.int().describe('How many other lots share it'),
    lots: z
      .array(z.object({ code: z.string(), item: itemCode, onHand: amount, status: lotStatus }))
      .describe('The newest of them'),
  })
  .meta({ id: 'SharedGroup' });
export const sharesView = z.object({ lot: z.string(), shares: z.array(sharedGroup) }).meta({ id: 'SharesView' });
export type SharesView = z.infer<typeof sharesView>;
export type SharedGroup = SharesView['shares'][number];
