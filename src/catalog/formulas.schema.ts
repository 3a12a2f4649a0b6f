import { z } from 'zod';
import { problemWith } from '../platform/problem-schema.js';
import { vesselKind } from './workshop.schema.js';
import {
  amount,
  amountInput,
  instant,
  itemCode,
  lineOfText,
  longText,
  partsPpb,
  percentInput,
  percentUpTo,
} from '../platform/schema.js';
import { STEPS } from './formula.entity.js';

export const phase = z.enum(STEPS).meta({ id: 'Phase' });

const SKILL_SAID = 'must be 1 to 60 letters, digits or blanks, such as "hot wax"';

/** What not all may do, in the maker's own words. */
export const skill = z
  .string()
  .trim()
  .toLowerCase()
  .max(60, SKILL_SAID)
  .regex(/^[\p{L}\p{N}][\p{L}\p{N} '&-]*$/u, SKILL_SAID)
  .meta({ id: 'Skill' });

const LINES_MAX = 64;
const LOSS_PPB_MAX = 900_000_000;

const step = phase.optional().describe('When it is needed; by default at "make" in a bulk, else at "fill"');
const inside = {
  item: itemCode,
  isBase: z.boolean().optional().describe('A load counts on the lines marked so'),
  step,
};

/** One ingredient as it is sent; its basis says what its amount means. */
export const lineInput = z
  .discriminatedUnion('basis', [
    z.strictObject({ ...inside, basis: z.literal('share'), amount: percentInput }).describe('% of the weight put in'),
    z.strictObject({ ...inside, basis: z.literal('load'), amount: percentInput }).describe('% of the base lines'),
    z
      .strictObject({
        ...inside,
        basis: z.literal('ratio'),
        amount: z.union([z.number().min(0).max(1_000_000), lineOfText(20)]).describe('Times the named lines: 1, "0.5"'),
        ratioOf: z.array(z.int().min(1).max(LINES_MAX)).min(1).max(LINES_MAX).describe('Line numbers, the first is 1'),
      })
      .describe('Times the weight of other lines'),
    z.strictObject({ ...inside, basis: z.literal('qs') }).describe('Fills up to 100 %'),
    z.strictObject({ item: itemCode, step, basis: z.literal('each'), amount: amountInput }).describe('Per unit made'),
    z.strictObject({ item: itemCode, step, basis: z.literal('fixed'), amount: amountInput }).describe('Per batch'),
  ])
  .meta({ id: 'FormulaLineCreate' });
export type LineInput = z.infer<typeof lineInput>;

const lines = z.array(lineInput).min(1).max(LINES_MAX);

export const formulaCreate = z
  .strictObject({
    lines,
    vesselKind: vesselKind.nullable().optional().describe('Kind of vessel it is made in; none if it needs none'),
    batchMin: amountInput.describe('The smallest batch that comes out'),
    batchMax: amountInput.nullable().optional(),
    batchMultiple: amountInput.optional(),
    loss: percentUpTo(LOSS_PPB_MAX).optional().describe('Part of what is put in that never comes out'),
    residue: amountInput.optional().describe('Weight that stays in the vessel, whatever the batch'),
    minutesBatch: z.int().min(0).max(10_000).optional(),
    secondsUnit: z.int().min(0).max(86_400).optional(),
    restDays: z.int().min(0).max(1000).optional().describe('Calendar days between pouring and release'),
    skill: skill.nullable().optional().describe('What whoever makes it must be able to do; none: anybody may'),
    steps: z
      .array(z.strictObject({ phase: phase, instruction: longText(2000).min(1) }))
      .max(64)
      .optional(),
    note: longText(4000).optional(),
  })
  .meta({ id: 'FormulaCreate' });
export type FormulaCreate = z.infer<typeof formulaCreate>;

const lineView = z
  .object({
    line: z.int(),
    item: itemCode,
    basis: z.enum(['share', 'load', 'ratio', 'qs', 'each', 'fixed']),
    amount: z
      .int()
      .min(0)
      .nullable()
      .describe('ppb for share and load, ppb of one for ratio, base unit for each, fixed'),
    isBase: z.boolean(),
    ratioOf: z.array(z.int()),
    step: phase,
    partPpb: partsPpb.nullable().describe('Part of the weight put in; null outside the 100 %'),
  })
  .meta({ id: 'FormulaLineView' });

export const formulaSummary = z
  .object({
    id: z.int(),
    item: itemCode,
    version: z.int(),
    isCurrent: z.boolean(),
    withdrawn: z.boolean(),
    vesselKind: z.string().nullable(),
    batchMin: amount,
    batchMax: amount.nullable(),
    batchMultiple: amount,
    lossPpb: partsPpb,
    residueMg: amount,
    minutesBatch: z.int(),
    secondsUnit: z.int(),
    restDays: z.int(),
    skill: skill.nullable(),
    note: z.string(),
    createdBy: z.string(),
    createdAt: instant,
  })
  .meta({ id: 'FormulaSummary' });
export type FormulaSummary = z.infer<typeof formulaSummary>;
export const formulaList = z.object({ formulas: z.array(formulaSummary) }).meta({ id: 'FormulaList' });

export const formulaStep = z.object({ phase, instruction: z.string() }).meta({ id: 'FormulaStep' });

export const formulaView = formulaSummary
  .extend({
    lines: z.array(lineView),
    steps: z.array(formulaStep),
  })
  .meta({ id: 'FormulaView' });
export type FormulaView = z.infer<typeof formulaView>;

export const solveInput = z
  .strictObject({
    lines,
    kind: z.enum(['bulk', 'product', 'set']).optional().describe('What the lines would make; a bulk unless said'),
  })
  .meta({ id: 'FormulaSolve' });
export type SolveInput = z.infer<typeof solveInput>;

export const solution = z
  .object({
    lines: z.array(
      z.object({
        line: z.int(),
        item: itemCode,
        partPpb: partsPpb.nullable(),
        percent: z.string().nullable().describe('The same in percent, exactly'),
      }),
    ),
  })
  .meta({ id: 'Solution' });
export type Solution = z.infer<typeof solution>;

export const scaleInput = z
  .strictObject({
    batch: amountInput.optional().describe('A bulk: the weight put in. A product or set: the units made'),
    output: amountInput.optional().describe('What is to come out'),
  })
  .refine((body) => (body.batch === undefined) !== (body.output === undefined), {
    error: 'Give batch or output, one of the two.',
  })
  .meta({ id: 'FormulaScale' });
export type ScaleInput = z.infer<typeof scaleInput>;

export const sheetView = z
  .object({
    formula: z.int(),
    item: itemCode,
    putInMg: amount.describe('The weight put in'),
    output: amount.describe('What is expected to come out'),
    scaleStepMg: amount.describe(
      "The step its weights are rounded to: the workshop's, or a finer one where a line asks",
    ),
    lines: z.array(
      z.object({
        line: z.int(),
        item: itemCode,
        name: z.string(),
        step: phase,
        amount: amount,
        text: z.string().describe('The same amount with its unit'),
        flag: z
          .enum(['below-smallest', 'finer-scale-needed', 'not-weighable'])
          .nullable()
          .describe('Set where the scale cannot weigh it well'),
        advice: z.array(z.string()).describe('What can be done about it'),
      }),
    ),
  })
  .meta({ id: 'SheetView' });
export type SheetView = z.infer<typeof sheetView>;

export const formulaProblem = problemWith('FormulaProblem', {
  items: z.array(itemCode).describe('circle, too-deep: the items of it'),
});
