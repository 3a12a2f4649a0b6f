import { z } from 'zod';
import { phase, skill } from '../catalog/formulas.schema.js';
import type { Proposal } from '../kernel/plan/proposal.js';
import { problemWith } from '../platform/problem-schema.js';
import {
  amount,
  amountInput,
  flagText,
  idParam,
  isoDay,
  itemCode,
  longText,
  moneyE4,
  readableCode,
} from '../platform/schema.js';
import { changeSchema } from './what-changed.js';

export const createRunSchema = z
  .strictObject({
    weekStart: isoDay
      .optional()
      .describe('First of the seven days; the next Monday (or today, if it is one) when left out'),
  })
  .meta({ id: 'CreateRun' });
export type CreateRun = z.infer<typeof createRunSchema>;

const dayOrNull = isoDay.nullable();
const heldUpBy = z
  .enum([
    'bench-full',
    'skill-full',
    'as-shown',
    'no-vessel',
    'washing',
    'delivery',
    'rest',
    'source',
    'fresh',
    'too-long',
    'skill-short',
    'nobody-may',
    'too-large',
    'expires',
  ])
  .meta({ id: 'HeldUpBy' });
const decant = z
  .object({ on: isoDay, for: z.string().nullable().describe('The batch that needs its vessel next, if one does') })
  .meta({ id: 'Decant' })
  .describe('Where its vessel is emptied before all that it is for is made');
const sizeLimit = z
  .enum(['formula', 'vessel', 'bench', 'people', 'source'])
  .meta({ id: 'SizeLimit' })
  .describe("What allows no more where a batch is smaller than its formula's least");
const washFields = { minutes: z.int(), after: itemCode.describe('The item that stood in its vessel') };
const wash = z.object(washFields).meta({ id: 'Wash' });
const taken = z
  .object({
    from: z.enum(['lot', 'delivery', 'batch', 'making']),
    key: z.string(),
    quantity: amount,
  })
  .meta({ id: 'PlannedTake' });

const batch = z
  .object({
    key: z.string(),
    item: z.string(),
    formulaVersion: z.int(),
    output: amount,
    belowLeast: sizeLimit.nullable(),
    putInMg: amount,
    day: dayOrNull,
    readyOn: dayOrNull,
    emptiedOn: dayOrNull,
    vessel: z.string().nullable(),
    decant: decant.nullable(),
    minutes: z.int().describe('Those for washing its vessel first included'),
    wash: wash.optional(),
    restDays: z.int(),
    expiresOn: dayOrNull,
    inWeek: z.boolean(),
    latestDay: isoDay,
    forOrders: amount,
    heldUpBy: heldUpBy.nullable(),
    short: z.boolean(),
    inputs: z.array(
      z.object({
        position: z.int(),
        item: z.string(),
        step: phase,
        needOn: dayOrNull,
        quantity: amount,
        stocked: z.boolean(),
        belowScale: z.boolean(),
        taken: z.array(taken),
        missing: amount,
      }),
    ),
    madeFor: z.array(z.object({ for: z.enum(['line', 'batch', 'stock']), key: z.string(), quantity: amount })),
  })
  .meta({ id: 'PlannedBatch' });

export const itemQuantity = z.object({ item: z.string(), quantity: amount }).meta({ id: 'ItemQuantity' });

/** Why an order line is late or not covered. */
export const coverReason = z
  .enum([...heldUpBy.options, 'short', 'no-formula', 'overdue', 'never-fresh', 'plan-full', 'order'])
  .meta({ id: 'CoverReason' });

const waitedFor = z
  .object({ line: z.string(), item: z.string(), readyOn: dayOrNull })
  .meta({ id: 'WaitedFor' })
  .describe('The line of an order sent complete that this one waits for');

const cover = z
  .object({
    key: z.string(),
    item: z.string(),
    quantity: amount,
    shipBy: isoDay,
    notBefore: dayOrNull,
    taken: z.array(taken),
    missing: amount,
    readyOn: dayOrNull,
    lateDays: z.int(),
    because: coverReason.nullable(),
    waitsFor: waitedFor.optional(),
    parts: z
      .array(z.object({ on: isoDay, quantity: amount }))
      .optional()
      .describe('Of a line sent in parts'),
  })
  .meta({ id: 'LineCover' });

export const needSchema = z
  .object({
    item: z.string(),
    quantity: amount,
    inWeek: amount,
    fromLots: amount,
    fromDeliveries: amount,
    missing: amount,
    byDay: z.array(z.object({ day: isoDay, quantity: amount })),
  })
  .meta({ id: 'Need' });

export const shortfallSchema = z
  .object({
    item: z.string(),
    quantity: amount,
    needOn: isoDay,
    hurts: z.object({ lines: z.array(z.string()), batches: z.array(z.string()) }),
    packs: z.array(z.object({ key: z.string(), count: z.int() })),
    packsTotal: amount,
    costE4: moneyE4,
    gapE4: moneyE4,
    orderBy: dayOrNull,
    tooLate: z.boolean(),
  })
  .meta({ id: 'Shortfall' });

export const atRiskSchema = z
  .object({
    lot: z.string(),
    item: z.string(),
    expiresOn: isoDay,
    left: amount.nullable(),
    freeAfterPlan: amount,
    valueE4: moneyE4.nullable(),
    usableIn: z.array(z.string()),
  })
  .meta({ id: 'AtRisk' });

/** What the kernel answers, as the API describes it: the type annotation keeps the two the same. */
const proposal: z.ZodType<Proposal> = z
  .object({
    today: isoDay,
    weekStart: isoDay,
    weekEnd: isoDay,
    batches: z.array(batch),
    lines: z.array(cover),
    needs: z.array(needSchema),
    shortfalls: z.array(shortfallSchema),
    atRisk: z.array(atRiskSchema),
    days: z.array(z.object({ day: isoDay, minutesOpen: z.int(), minutesUsed: z.int() })),
    rewashed: z
      .array(z.object({ batch: z.string(), day: isoDay, more: z.int(), ...washFields }))
      .optional()
      .describe('Batches in the making that need more washing, for what the plan puts before them'),
    full: z
      .object({
        batchesMost: z.int(),
        refills: z.array(itemQuantity).describe('What of stock targets it has no room for'),
      })
      .meta({ id: 'PlanFull' })
      .describe(
        'Only where the plan holds no more batches: what it has no room for, with the lines that say `plan-full`',
      )
      .optional(),
  })
  .meta({ id: 'Proposal' });

const runStatus = z.enum(['draft', 'committed', 'undone']).meta({ id: 'RunStatus' });

export const runSummarySchema = z
  .object({
    id: z.int(),
    weekStart: isoDay,
    plannedOn: isoDay,
    status: runStatus,
    createdBy: z.string(),
    createdAt: z.string(),
    committedAt: z.string().nullable(),
  })
  .meta({ id: 'RunSummary' });
export const runSchema = runSummarySchema.extend({ proposal }).meta({ id: 'Run' });
export const runListSchema = z.object({ runs: z.array(runSummarySchema) }).meta({ id: 'RunList' });
export const needsSchema = z.object({ needs: z.array(needSchema) }).meta({ id: 'Needs' });
export const shortfallsSchema = z.object({ shortfalls: z.array(shortfallSchema) }).meta({ id: 'Shortfalls' });
export const atRiskListSchema = z.object({ atRisk: z.array(atRiskSchema) }).meta({ id: 'AtRiskList' });

export const committedSchema = z
  .object({
    id: z.int(),
    status: z.literal('committed'),
    batches: z.array(z.object({ key: z.string(), code: z.string(), item: z.string(), day: isoDay })),
    reservations: z.int(),
    leftOut: z.array(z.string()).describe('Batches of the week that are short: nothing is reserved for them'),
    changed: z.array(changeSchema).describe('What had changed since the draft, where it was planned again'),
  })
  .meta({ id: 'Committed' });

export const commitQuery = z.strictObject({
  replan: flagText
    .default('false')
    .describe('true: plan again in the same act where something has changed since the draft'),
});
export type CommitQuery = z.infer<typeof commitQuery>;

const brokenSchema = z
  .object({
    item: z.string(),
    quantity: amount,
    needOn: isoDay,
    batch: z.string().nullable(),
    order: z.string().nullable(),
  })
  .meta({ id: 'BrokenPlan' });

export const undoRunSchema = z.strictObject({ why: longText(500).default('') }).meta({ id: 'UndoRun' });
export type UndoRun = z.infer<typeof undoRunSchema>;
export const undoneSchema = z
  .object({
    id: z.int(),
    status: z.literal('undone'),
    cancelled: z.array(z.string()).describe('Codes of its batches'),
    freed: z.int().describe('Reservations given back'),
    broken: z.array(brokenSchema).describe('Promises of later plans on its batches, which nothing covers now'),
  })
  .meta({ id: 'Undone' });
export type Undone = z.infer<typeof undoneSchema>;

export const changeBatchSchema = z
  .strictObject({
    day: isoDay.optional(),
    vessel: readableCode.optional(),
    output: amountInput.optional().describe('What is meant to come out'),
    cancel: z.boolean().optional(),
    preview: z.boolean().default(false).describe('true: answers what it would do, and does nothing'),
    why: longText(500).default(''),
  })
  .refine((body) => body.day ?? body.vessel ?? body.output ?? body.cancel, 'says nothing to change')
  .meta({ id: 'ChangeBatch' });
export type ChangeBatch = z.infer<typeof changeBatchSchema>;

export const batchCodePath = z.strictObject({ id: idParam, code: readableCode });
export type BatchCodePath = z.infer<typeof batchCodePath>;

const takenOfLot = z.object({ item: z.string(), lot: z.string(), quantity: amount }).meta({ id: 'TakenOfLot' });

const fewLoad = z
  .object({ who: z.array(z.string()), skills: z.array(skill), minutesOpen: z.int(), minutesUsed: z.int() })
  .meta({ id: 'FewLoad' });

export const changedBatchSchema = z
  .object({
    code: z.string(),
    status: z.string(),
    day: isoDay,
    readyOn: isoDay,
    emptiedOn: isoDay,
    vessel: z.string().nullable(),
    output: amount,
    putInMg: amount,
    wash: wash.nullable(),
    minutesUsed: z.int().describe('Hands-on minutes planned on its day, this batch included'),
    minutesOpen: z.int(),
    few: z.array(fewLoad).describe('Where only some may make it: their minutes on its day, for all that only they may'),
    taken: z.array(takenOfLot).describe('Newly set aside'),
    freed: z.array(takenOfLot).describe('Given back'),
    late: z.array(z.object({ order: z.string(), shipBy: isoDay, readyOn: isoDay })),
    broken: z.array(brokenSchema).describe('What waited for its output and no longer gets it'),
  })
  .meta({ id: 'ChangedBatch' });
export type ChangedBatch = z.infer<typeof changedBatchSchema>;

export type RunSummary = z.infer<typeof runSummarySchema>;
export type RunView = z.infer<typeof runSchema>;
export type Committed = z.infer<typeof committedSchema>;

export const planProblem = problemWith('PlanProblem', {
  changed: z.array(changeSchema).describe('stale: what has changed since the draft'),
  begun: z.array(z.string()).describe('begun: batches that have begun'),
  batch: z.string().describe('vessel-taken: what is in it'),
  vessel: z.string(),
});
