import { z } from 'zod';
import { formulaStep, phase } from '../catalog/formulas.schema.js';
import { family, measure } from '../catalog/items.schema.js';
import { amount, instant, isoDay, itemCode, moneyE4 } from '../platform/schema.js';
import { checksView } from '../checks/checks.schema.js';
import { closingView } from './finish.schema.js';
import { batchStatus, rescaledLine, weighEffect } from './bench.schema.js';
import { keptSample } from '../checks/samples.schema.js';

const said = { by: z.string(), at: instant };

const recordEntry = z
  .object({
    movement: z.int().nullable().describe('Null for what is in no lot'),
    lot: z.string().nullable(),
    supplierLot: z.string(),
    expiresOn: isoDay.nullable(),
    quantity: z.int().describe('Below zero where it takes back what was written down wrongly'),
    valueE4: moneyE4,
    doneOn: isoDay,
    ...said,
    takenBack: z.object({ why: z.string(), ...said }).nullable(),
  })
  .meta({ id: 'RecordEntry' });
export type RecordEntry = z.infer<typeof recordEntry>;

const recordLine = z
  .object({
    position: z.int(),
    item: itemCode,
    name: z.string(),
    measure: measure,
    step: phase,
    stocked: z.boolean(),
    meant: amount.describe('What the sheet said first'),
    target: amount.describe('What was to go in after the rest was rescaled'),
    weighed: amount,
    tolerance: amount,
    isOff: z.boolean().describe('It departs from the target by more than the tolerance'),
    reworkLot: z.string().nullable(),
    entries: z.array(recordEntry),
  })
  .meta({ id: 'RecordLine' });

const recordOutput = z
  .object({
    lot: z.string(),
    kind: z.enum(['made', 'leftover']),
    item: itemCode,
    quantity: amount.describe('When it was made'),
    valueE4: moneyE4.describe('When it was made, and what was put on after the rest'),
    status: z.string(),
    expiresOn: isoDay.nullable(),
    place: z.string(),
    onHand: amount,
    usedIn: z.array(z.string()).describe('Batches that took of it'),
  })
  .meta({ id: 'RecordOutput' });

export const batchRecord = z
  .object({
    batch: z.string(),
    status: batchStatus,
    onHold: z.array(z.string()),
    item: itemCode,
    name: z.string(),
    kind: z.string(),
    family: family,
    measure: measure,
    formula: z.int(),
    formulaVersion: z.int(),
    formulaNote: z.string(),
    steps: z.array(formulaStep),
    vessel: z.string().nullable(),
    day: isoDay,
    readyOn: isoDay,
    output: amount,
    plannedMinutes: z.int(),
    madeFor: z.array(z.object({ for: z.string(), quantity: amount })),
    begunAt: instant.nullable(),
    people: z.array(z.string()).describe('Everybody who did something on it'),
    lines: z.array(recordLine),
    effect: weighEffect,
    pauses: z.array(
      z.object({ note: z.string(), ...said, resumed: z.object({ note: z.string(), ...said }).nullable() }),
    ),
    deviations: z.array(
      z.object({
        note: z.string(),
        position: z.int().nullable(),
        targets: z.array(rescaledLine),
        ...said,
      }),
    ),
    states: z.array(z.object({ from: z.string(), to: z.string(), why: z.string(), ...said })),
    checks: checksView,
    samples: z.array(keptSample).describe('What is or was kept of it, where and until when'),
    closing: closingView.extend(said).nullable(),
    outputs: z.array(recordOutput),
    cost: z
      .object({
        totalE4: moneyE4.describe('What the lot it made was worth, with what was put on after the rest'),
        materialsE4: moneyE4,
        labourE4: moneyE4,
        perUnitE4: moneyE4.describe('Of one unit, or of a kilogram, rounded half up'),
      })
      .nullable(),
    bestBefore: z
      .object({
        keepsUntil: isoDay.nullable().describe('By its own shelf life'),
        materialsUntil: isoDay.nullable().describe('The earliest date of what went in'),
        expiresOn: isoDay.nullable().describe('What holds'),
      })
      .nullable(),
  })
  .meta({ id: 'BatchRecord' });
export type BatchRecord = z.infer<typeof batchRecord>;
