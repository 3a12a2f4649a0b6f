import { z } from 'zod';
import { problemWith } from '../platform/problem-schema.js';
import { phase } from '../catalog/formulas.schema.js';
import { family, itemKind, measure } from '../catalog/items.schema.js';
import { FAMILIES } from '../catalog/item.entity.js';
import { amount, amountInput, instant, isoDay, itemCode, lineOfText, pageQuery, partsPpb } from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';

export const BATCH_STATUSES = [
  'planned',
  'reserved',
  'weighed',
  'resting',
  'released',
  'rejected',
  'cancelled',
] as const;
export const batchStatus = z.enum(BATCH_STATUSES).meta({ id: 'BatchStatus' });

const batchHead = {
  code: z.string(),
  item: itemCode,
  status: batchStatus,
  day: isoDay,
  readyOn: isoDay,
  vessel: z.string().nullable(),
  wash: z
    .object({ minutes: z.int(), after: z.string().describe('The name of what stood in its vessel') })
    .meta({ id: 'WashFirst' })
    .nullable(),
  output: amount.describe('What is meant to come out'),
  made: amount.nullable().describe('What came out; null until it is closed'),
  isPaused: z.boolean(),
  onHold: z.array(z.string()).describe('Lots on hold that it was to take, or that are in it'),
};

export const batchSummary = z.object(batchHead).meta({ id: 'BatchSummary' });
export const batchPage = z
  .object({ batches: z.array(batchSummary), next: z.string().nullable() })
  .meta({ id: 'BatchPage' });
export type BatchPage = z.infer<typeof batchPage>;

export const batchQuery = pageQuery.extend({ status: batchStatus.optional() });
export type BatchQuery = z.infer<typeof batchQuery>;

export const batchInput = z
  .object({
    position: z.int(),
    item: itemCode,
    name: z.string(),
    measure: measure,
    stocked: z.boolean().describe('False for what is in no lot, such as tap water'),
    family: family,
    flammable: z.boolean(),
    step: phase,
    needOn: isoDay,
    quantity: amount.describe('What is to go in'),
    meant: amount.describe('What the sheet said first, before the rest was rescaled'),
    tolerance: amount.describe('How far what goes in may depart from it and still count as right'),
    afterRest: z.boolean().describe('Goes on after the rest, so that the pour does not wait for it'),
    advice: z.array(z.string()).describe('What to do instead where it is below the smallest weight of the scale'),
    reworkLot: z.string().nullable().describe('The rejected lot that is worked in'),
    reserved: z
      .array(
        z.object({
          source: z.string().describe('A lot, a batch or a delivery'),
          place: z.string().describe('Where the lot stands'),
          isLot: z.boolean().describe('False for what is still to be made or to come'),
          quantity: amount,
          needOn: isoDay,
        }),
      )
      .describe('Set aside and not yet used'),
    fitting: z
      .array(z.object({ lot: z.string(), place: z.string(), free: amount }))
      .describe('Where less is set aside than is to go in: a few lots nobody claims, the earliest date first'),
    weighed: amount.describe('What went in, corrections taken off'),
    lots: z.array(z.object({ lot: z.string(), quantity: amount })).describe('Of which lots that was'),
    done: z.boolean().describe('All of it is weighed, or what is weighed was said to be all'),
  })
  .meta({ id: 'BatchLine' });
export const batchView = z
  .object({
    ...batchHead,
    name: z.string(),
    kind: itemKind,
    family: family,
    measure: measure,
    flammable: z.boolean(),
    formula: z.int(),
    formulaVersion: z.int(),
    lot: z.string().nullable().describe('The lot it made'),
    putInMg: amount,
    mayMake: z.array(z.string()).nullable().describe('Who may make it now, by name; null where anybody may'),
    inputs: z.array(batchInput),
  })
  .meta({ id: 'BatchView' });
export type BatchView = z.infer<typeof batchView>;

export const weighingCreate = z
  .strictObject({
    position: z.int().min(1).max(64).describe('The line of the sheet'),
    lot: lineOfText(80).optional().describe('Of which lot; left out for what is in none'),
    quantity: amountInput.describe('What really went in'),
    on: isoDay.optional().describe('Today unless said, never a day to come'),
    isAll: z.boolean().default(false).describe('Nothing more of this line goes in, though it is less than was meant'),
    further: z.boolean().default(false).describe('A further portion: something of this line is in already'),
    off: z.boolean().default(false).describe('Meant, though the line is then above what is good, or below and all'),
    found: z.boolean().default(false).describe('Meant, though the book holds less of the lot: the rest was there too'),
    takesBack: z.boolean().default(false).describe('Of what is in no lot: takes back what was written down wrongly'),
  })
  .meta({ id: 'WeighingCreate' });
export type WeighingCreate = z.infer<typeof weighingCreate>;

export const weighEffect = z
  .object({
    lines: z.array(
      z.object({
        position: z.int(),
        item: itemCode,
        meantPpb: partsPpb.describe('Its part of the whole by the sheet'),
        sharePpb: partsPpb.describe('Its part with what is in, if the rest is weighed as it stands'),
      }),
    ),
    fragrances: z.array(
      z.object({
        item: itemCode,
        sharePpb: partsPpb,
        limits: z.array(z.object({ category: z.string(), limitPpb: partsPpb, isOver: z.boolean() })),
      }),
    ),
    canRescale: z.boolean().describe('The rest can be brought into proportion with what is in'),
  })
  .meta({ id: 'WeighEffect' });
export type WeighEffect = z.infer<typeof weighEffect>;

export const weighed = z
  .object({
    movements: z.array(z.int()).describe('One for each promise that was used, and one for the rest'),
    foundMore: amount.describe('What the lot held beyond the book, posted as a count first'),
    freed: z.array(brokenPromise).describe('Whom it was taken from'),
    effect: weighEffect.describe('What it does to the formula'),
    batch: batchView,
  })
  .meta({ id: 'Weighed' });
export type Weighed = z.infer<typeof weighed>;

export const rescaleCreate = z.strictObject({ why: lineOfText(500).optional() }).meta({ id: 'RescaleCreate' });
export type RescaleCreate = z.infer<typeof rescaleCreate>;

export const rescaledLine = z.object({ position: z.int(), from: amount, to: amount }).meta({ id: 'RescaledLine' });

export const rescaledView = z
  .object({
    changed: z.array(rescaledLine),
    effect: weighEffect,
    batch: batchView,
  })
  .meta({ id: 'RescaledView' });
export type Rescaled = z.infer<typeof rescaledView>;

export const pauseCreate = z.strictObject({ note: lineOfText(500) }).meta({ id: 'PauseCreate' });
export type PauseCreate = z.infer<typeof pauseCreate>;
export const resumeCreate = z.strictObject({ note: lineOfText(500).optional() }).meta({ id: 'ResumeCreate' });
export type ResumeCreate = z.infer<typeof resumeCreate>;

/** What stands at the bench, for its page. */
export interface BoardBatch {
  code: string;
  item: string;
  name: string;
  family: (typeof FAMILIES)[number];
  measure: 'weighed' | 'counted';
  status: (typeof BATCH_STATUSES)[number];
  day: string;
  readyOn: string;
  vessel: string | null;
  quantity: number;
  isPaused: boolean;
  /** Lots on hold that it was to take, or that are in it. */
  onHold: string[];
  /** Lines that are done, of how many. */
  done: number;
  lines: number;
  /** Batches that have to be released before this can be weighed. */
  waitsFor: string[];
}

export const readyQuery = z.strictObject({ from: isoDay.optional(), to: isoDay.optional() });
export type ReadyQuery = z.infer<typeof readyQuery>;
export const readyDays = z
  .object({
    days: z.array(
      z.object({
        day: isoDay,
        batches: z.array(
          z.object({
            code: z.string(),
            item: itemCode,
            name: z.string(),
            family: z.string(),
            status: batchStatus,
            quantity: amount.describe('What it made, or is meant to'),
            promised: amount.describe('Of it, promised to orders and other batches'),
            lot: z.string().nullable(),
          }),
        ),
      }),
    ),
  })
  .meta({ id: 'ReadyDays' });
export type ReadyDays = z.infer<typeof readyDays>;

export const weighProblem = problemWith('WeighProblem', {
  asks: z
    .array(z.enum(['further', 'off', 'found']))
    .describe('What is asked before anything is written: sent again with each of these true, it is'),
  instead: z
    .object({ lot: z.string(), place: z.string(), onHand: amount, free: amount, expiresOn: isoDay.nullable() })
    .nullable()
    .describe('Another lot that may be taken'),
  weighed: amount.describe('already-weighed'),
  entries: z
    .array(z.object({ lot: z.string().nullable(), quantity: z.int(), by: z.string(), at: instant }))
    .describe('already-weighed: what is in'),
  good: z.object({ least: amount, most: amount }).describe('off-target: what is good'),
  becomes: amount.describe('off-target: what would be in'),
  booked: z
    .object({ lot: z.string(), onHand: amount, typed: amount })
    .describe('more-than-booked: what the book holds of the lot'),
});
