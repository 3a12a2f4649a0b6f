import { z } from 'zod';
import {
  amount,
  amountInput,
  instant,
  isoDay,
  itemCode,
  lineOfText,
  moneyE4,
  nearDay,
  pageLimit,
} from '../platform/schema.js';
import { brokenPromise, lotStatus, lotView } from './stock.schema.js';

const lotCode = lineOfText(80);
const reason = lineOfText(500);
const on = nearDay.optional().describe('The day it was done; today unless said, never a day to come');
const freed = z.array(brokenPromise).describe('What the lot was promised to and can no longer give');

export const issue = z.strictObject({ quantity: amountInput, reason, on }).meta({ id: 'IssueCreate' });
export type Issue = z.infer<typeof issue>;

export const lotActed = lotView
  .extend({ movement: z.int().describe('The entry of the ledger'), freed })
  .meta({ id: 'LotActed' });
export type LotActed = z.infer<typeof lotActed>;

export const countCreate = z
  .strictObject({
    place: lineOfText(120)
      .optional()
      .describe('The shelf that was counted: lots booked there and not named are listed'),
    countedOn: nearDay.optional().describe('Compared with the book at the end of that day; today unless said'),
    reason,
    lots: z
      .array(z.strictObject({ lot: lotCode, counted: amountInput }))
      .min(1)
      .max(500),
  })
  .meta({ id: 'CountCreate' });
export type CountCreate = z.infer<typeof countCreate>;

export const counted = z
  .object({
    id: z.int(),
    place: z.string().nullable(),
    countedOn: isoDay,
    lots: z.array(
      z.object({
        lot: z.string(),
        item: itemCode,
        expected: z.int().describe('What the book held at the end of that day'),
        counted: amount,
        difference: z.int(),
        valueE4: z.int().describe('Of the difference: what was found is worth nothing, what is lost its share'),
        movement: z.int().nullable(),
        freed,
      }),
    ),
    notCounted: z.array(z.string()).describe('Lots the book holds at this place that the count does not name'),
  })
  .meta({ id: 'Counted' });
export type Counted = z.infer<typeof counted>;

export const splitCreate = z
  .strictObject({
    quantity: amountInput,
    place: lineOfText(120).describe('Where the part goes'),
    reason,
    status: z.enum(['held', 'same']).default('same').describe('Of the part: set aside, or as the lot it comes from'),
    on,
  })
  .meta({ id: 'SplitCreate' });
export type SplitCreate = z.infer<typeof splitCreate>;

export const split = z.object({ lot: lotView, part: lotView, freed }).meta({ id: 'LotSplit' });
export type Split = z.infer<typeof split>;

export const retestCreate = z
  .strictObject({
    newDate: nearDay.describe('The last usable day from now on'),
    evidence: reason.describe('What was examined and found'),
    on,
  })
  .meta({ id: 'RetestCreate' });
export type RetestCreate = z.infer<typeof retestCreate>;

export const retested = lotView.extend({ fromDate: isoDay.nullable(), freed }).meta({ id: 'Retested' });
export type Retested = z.infer<typeof retested>;

export const dateCorrectionCreate = z
  .strictObject({
    expiresOn: nearDay.nullable().describe('The date that stands on it; null where there is none'),
    reason: reason.describe('How the mistake was found'),
  })
  .meta({ id: 'DateCorrectionCreate' });
export type DateCorrectionCreate = z.infer<typeof dateCorrectionCreate>;

export const correctionCreate = z.strictObject({ reason }).meta({ id: 'CorrectionCreate' });
export type CorrectionCreate = z.infer<typeof correctionCreate>;

export const corrected = z
  .object({
    corrections: z.array(
      z.object({
        id: z.int(),
        reverses: z.int(),
        lot: z.string(),
        quantity: z.int(),
        valueE4: z.int(),
        doneOn: isoDay,
      }),
    ),
    freed,
  })
  .meta({ id: 'Corrected' });
export type Corrected = z.infer<typeof corrected>;

const MONEY_E4_MAX = 1_000_000_000_000_000;

export const revaluationCreate = z
  .strictObject({
    amountE4: z
      .int()
      .min(-MONEY_E4_MAX)
      .max(MONEY_E4_MAX)
      .refine((value) => value !== 0, 'must not be zero')
      .describe('What all that came of the lot costs more, or less if negative, in 1/10 000 of the currency unit'),
    reason,
    on,
  })
  .meta({ id: 'RevaluationCreate' });
export type RevaluationCreate = z.infer<typeof revaluationCreate>;

export const revalued = z
  .object({
    amountE4: z.int(),
    lots: z.array(z.object({ lot: z.string(), addedE4: z.int(), valueE4: moneyE4 })),
    differenceE4: z.int().describe('The part of what is no longer on hand'),
  })
  .meta({ id: 'Revalued' });
export type Revalued = z.infer<typeof revalued>;

export const orderLineName = z
  .strictObject({
    channel: lineOfText(40),
    number: lineOfText(80),
    code: lineOfText(120).describe('The code as the shop writes it'),
    occurrence: z.int().min(1).max(1000).default(1).describe('Which of the lines with this code, counted from 1'),
  })
  .meta({ id: 'OrderLineName' });

export const setAsideCreate = z
  .strictObject({
    quantity: amountInput,
    orderLine: orderLineName.optional(),
    batch: lineOfText(80).optional(),
    position: z.int().min(1).max(64).optional().describe('With batch: the line of its sheet'),
  })
  .refine(
    ({ orderLine, batch, position }) =>
      (orderLine !== undefined) !== (batch !== undefined) && (batch === undefined) === (position === undefined),
    'name an order line, or a batch and a position',
  )
  .meta({ id: 'SetAsideCreate' });
export type SetAsideCreate = z.infer<typeof setAsideCreate>;

export const setAside = brokenPromise
  .extend({ id: z.int().describe('Of the reservation'), lot: z.string() })
  .meta({ id: 'SetAside' });
export type SetAside = z.infer<typeof setAside>;
export const setAsideList = z.object({ reservations: z.array(setAside) }).meta({ id: 'SetAsideList' });
export type SetAsideList = z.infer<typeof setAsideList>;

export const freeCreate = z
  .strictObject({ quantity: amountInput.optional().describe('All of it unless said') })
  .meta({ id: 'FreeCreate' });
export type FreeCreate = z.infer<typeof freeCreate>;
export const freedNow = z.object({ id: z.int(), freed: amount, open: amount }).meta({ id: 'FreedNow' });
export type FreedNow = z.infer<typeof freedNow>;

export const historyQuery = z.strictObject({
  limit: pageLimit,
  after: z
    .string()
    .regex(/^(count|date|movement|retest|status):[0-9]{1,15}$/, 'must be "next" of the page before')
    .optional(),
});
export type HistoryQuery = z.infer<typeof historyQuery>;

export const historyEntry = z
  .object({
    kind: z.enum(['count', 'date', 'movement', 'retest', 'status']),
    id: z.int(),
    at: instant,
    by: z.string(),
    why: z.string(),
    doneOn: isoDay.nullable(),
    cause: z.string().nullable().describe('Of a movement'),
    quantity: z.int().nullable(),
    valueE4: z.int().nullable(),
    from: z.string().nullable().describe('A status, a date, or what the book held'),
    to: z.string().nullable().describe('A status, a date, or what was counted'),
  })
  .meta({ id: 'HistoryEntry' });
export type HistoryEntry = z.infer<typeof historyEntry>;
export const history = z
  .object({
    status: lotStatus,
    entries: z.array(historyEntry),
    next: z.string().nullable(),
  })
  .meta({ id: 'History' });
export type History = z.infer<typeof history>;
