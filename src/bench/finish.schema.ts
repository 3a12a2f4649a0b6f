import { z } from 'zod';
import { problemWith } from '../platform/problem-schema.js';
import { amount, amountInput, isoDay, itemCode, lineOfText, longText, moneyE4 } from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';
import { batchView } from './bench.schema.js';

export const finishCreate = z
  .strictObject({
    made: amountInput.describe('What came out: the weight of a bulk, the units of a product'),
    on: isoDay.optional().describe('The day it was poured: today unless said, never a day to come'),
    density: lineOfText(40).optional().describe('Of a bulk, as measured: "0.842 g/ml"'),
    leftovers: z
      .array(
        z.strictObject({
          position: z.int().min(1).max(64).describe('The line of the sheet it was weighed for'),
          quantity: amountInput,
          place: longText(120).optional(),
        }),
      )
      .max(16)
      .default([])
      .describe('Weighed and not used: each goes back on the shelf as a lot of its own'),
    minutes: z.int().min(0).max(100_000).optional().describe('At the bench, as worked; else as planned'),
    place: longText(120).optional().describe('Where what was made stands'),
    lossReason: longText(500).optional().describe("Why more, or less, was lost than the formula's loss allows for"),
    leaveOut: z.boolean().default(false).describe('What was not all weighed stays as it is; says why'),
    why: lineOfText(500).optional(),
  })
  .meta({ id: 'FinishCreate' });
export type FinishCreate = z.infer<typeof finishCreate>;

export const closingView = z
  .object({
    finishedOn: isoDay,
    putInMg: amount,
    unbookedMg: amount.describe('Of it, what was in no lot: water from the tap, pieces worked in'),
    made: amount,
    madeMg: amount.describe('The weight of what was made, without its containers'),
    leftMg: amount,
    lossMg: z.int().describe('Below zero where more came out than went in'),
    expectedLossMg: amount,
    lossReason: z.string(),
    densityUgPerMl: z.int().nullable(),
    minutes: z.int(),
    labourE4: moneyE4,
    inputsE4: moneyE4.describe('What went in was worth so much when it was closed'),
    lostE4: moneyE4.describe('Where nothing came out, what all of it was worth'),
    keepsUntil: isoDay.nullable().describe('By its own shelf life'),
    materialsUntil: isoDay.nullable().describe('The earliest date of what went in'),
  })
  .meta({ id: 'ClosingView' });
export type ClosingView = z.infer<typeof closingView>;

export const finished = z
  .object({
    lot: z.string(),
    leftovers: z.array(z.object({ position: z.int(), lot: z.string(), quantity: amount })),
    closing: closingView,
    freed: z.array(brokenPromise).describe('Whom a smaller yield can no longer give what was promised'),
    batch: batchView,
  })
  .meta({ id: 'BatchFinished' });
export type Finished = z.infer<typeof finished>;

export const releaseCreate = z
  .strictObject({
    why: lineOfText(500).optional().describe('Asked for where it is released before its rest is over'),
    leaveOut: z.boolean().default(false).describe('What was not all put on stays so; says why'),
  })
  .meta({ id: 'ReleaseCreate' });
export type ReleaseCreate = z.infer<typeof releaseCreate>;

export const released = z
  .object({
    lot: z.string(),
    kept: z.int().describe('Promises on the batch that are now promises on its lot'),
    freed: z.array(brokenPromise).describe('Whom the lot cannot give what was promised'),
    batch: batchView,
  })
  .meta({ id: 'BatchReleased' });
export type Released = z.infer<typeof released>;

export const rejectCreate = z
  .strictObject({
    why: lineOfText(500),
    forRework: z.boolean().default(false).describe('It may go into another batch'),
  })
  .meta({ id: 'RejectCreate' });
export type RejectCreate = z.infer<typeof rejectCreate>;

export const rejected = z
  .object({
    lot: z.string().nullable().describe('Null where nothing was made of it yet'),
    freed: z.array(brokenPromise).describe('To whom it was promised'),
    batch: batchView,
  })
  .meta({ id: 'BatchRejected' });
export type Rejected = z.infer<typeof rejected>;

export const closingProblem = problemWith('ClosingProblem', {
  lossMg: z.int().describe('explain-loss'),
  expectedLossMg: amount,
  toleranceMg: amount,
  lacking: z
    .array(z.object({ position: z.int(), item: itemCode, weighed: amount, wanted: amount }))
    .describe('not-weighed'),
  readyOn: isoDay.describe('still-resting'),
  missing: z.array(z.string()).describe('unchecked: names of what is still to be checked'),
  failed: z.array(z.string()).describe('unchecked: names of what is not good'),
});
