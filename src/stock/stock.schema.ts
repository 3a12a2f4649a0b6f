import { z } from 'zod';
import {
  amount,
  amountInput,
  instant,
  isoDay,
  nearDay,
  itemCode,
  lineOfText,
  longText,
  moneyE4,
  pageLimit,
  pageQuery,
  readableCode,
} from '../platform/schema.js';
import { LOT_STATUSES } from './stock.entity.js';

export const lotStatus = z.enum(LOT_STATUSES).meta({ id: 'LotStatus' });

export const lotCreate = z
  .strictObject({
    item: itemCode,
    quantity: amountInput,
    code: readableCode.optional().describe('Its own code; left out, one is made: year, day of the year, serial'),
    receivedOn: nearDay.optional().describe('Today unless said; never a day to come'),
    expiresOn: nearDay
      .nullable()
      .optional()
      .describe("Last usable day; left out, from the item's shelf life; null never"),
    supplier: readableCode.optional(),
    supplierLot: longText(120).optional(),
    certificate: longText(500).optional(),
    costE4: moneyE4.optional().describe('What all of it cost, in 1/10 000 of the currency unit'),
    place: longText(120).optional(),
    reason: longText(500).optional().describe('Such as "opening count"'),
  })
  .meta({ id: 'LotCreate' });
export type LotCreate = z.infer<typeof lotCreate>;

export const lotQuery = pageQuery.extend({
  item: itemCode.optional(),
  status: lotStatus.optional(),
});
export type LotQuery = z.infer<typeof lotQuery>;

export const lotView = z
  .object({
    code: z.string(),
    item: itemCode,
    status: lotStatus,
    onHand: amount,
    reserved: amount,
    free: amount.describe('On hand less reserved'),
    valueE4: moneyE4,
    expiresOn: isoDay.nullable(),
    cameOn: isoDay,
    place: z.string(),
    supplier: z.string().nullable(),
    supplierLot: z.string(),
    certificate: z.string(),
    parentLot: z.string().nullable(),
    neverRelease: z.boolean().describe('It came back and may have been opened, so it is never sold again'),
    createdBy: z.string(),
    createdAt: instant,
  })
  .meta({ id: 'LotView' });
export type LotView = z.infer<typeof lotView>;

export const lotPage = z.object({ lots: z.array(lotView), next: z.string().nullable() }).meta({ id: 'LotPage' });
export type LotPage = z.infer<typeof lotPage>;

export const movementQuery = z.strictObject({
  limit: pageLimit,
  after: z.coerce.number().int().min(0).optional().describe('The last movement of the page before'),
});
export type MovementQuery = z.infer<typeof movementQuery>;

export const movementView = z
  .object({
    id: z.int(),
    cause: z.string(),
    quantity: z.int().describe('Negative for what left'),
    valueE4: z.int(),
    doneOn: isoDay,
    recordedAt: instant,
    reason: z.string(),
    otherLot: z.string().nullable(),
    reverses: z.int().nullable(),
    createdBy: z.string(),
  })
  .meta({ id: 'MovementView' });
export type MovementView = z.infer<typeof movementView>;
export const movementPage = z
  .object({ movements: z.array(movementView), next: z.int().nullable() })
  .meta({ id: 'MovementPage' });
export type MovementPage = z.infer<typeof movementPage>;

export const statusChange = z
  .strictObject({
    to: lotStatus,
    why: lineOfText(500),
  })
  .meta({ id: 'StatusChange' });
export type StatusChange = z.infer<typeof statusChange>;

/** A promise that was taken back because its source can no longer keep it. */
export const brokenPromise = z
  .object({
    item: itemCode,
    quantity: amount,
    needOn: isoDay,
    batch: z.string().nullable().describe('The batch it was promised to'),
    order: z.string().nullable().describe('Or the order, as channel and number'),
  })
  .meta({ id: 'BrokenPromise' });
export type BrokenPromise = z.infer<typeof brokenPromise>;

export const statusChanged = lotView.extend({ freed: z.array(brokenPromise) }).meta({ id: 'StatusChanged' });
export type StatusChanged = z.infer<typeof statusChanged>;
