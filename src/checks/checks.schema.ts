import { z } from 'zod';
import { family } from '../catalog/items.schema.js';
import { NET_RULES } from '../kernel/bench/net-contents.js';
import { amount, amountInput, isoDay, itemCode, lineOfText, longText, percentInput } from '../platform/schema.js';
import { CHECK_MEASURES, MADE } from './check-kinds.js';

export const checkedMade = z.enum(MADE).meta({ id: 'CheckedMade' });

export const checkMeasure = z.enum(CHECK_MEASURES).meta({ id: 'CheckMeasure' });

export const netBasis = z.enum(['weight', 'volume']).meta({ id: 'NetBasis' });

export const netRule = z.enum(NET_RULES).meta({ id: 'NetRule' });

export const checkKindCode = z
  .string()
  .regex(/^[a-z][a-z0-9-]{0,59}$/, 'Write 1 to 60 small letters (a to z), digits or dashes, a letter first.')
  .meta({ id: 'CheckKindCode' });
const word = lineOfText(60);
/** A decimal number, as text or as a number: thousandths at the finest. */
export const decimalInput = z
  .union([z.number(), lineOfText(20)])
  .meta({ id: 'DecimalSent', description: 'A number with at most three decimals, such as 25 or "9.5"' });
const limitE3 = z.int().nullable().describe('Thousandths of the unit; null sets no limit');

const kindHead = {
  family: family,
  made: checkedMade.describe('At the batches of the bulk, of what is filled from it, or both'),
  position: z.int().min(1).max(999),
  name: lineOfText(200),
  measure: checkMeasure,
  choices: z.array(word).max(20),
  good: z.array(word).max(20).describe('Which of the choices are good'),
  unitsLeast: z
    .int()
    .min(1)
    .max(1000)
    .nullable()
    .describe("Enough units to weigh, where not all of the rule's plan are"),
  isRequired: z.boolean().describe('Nothing is released without it'),
};
export const checkKind = z
  .object({
    code: checkKindCode,
    ...kindHead,
    how: z.string(),
    unit: z.string(),
    lowestE3: limitE3,
    highestE3: limitE3,
    oneOf: z.string().describe('Of those with the same word one is enough'),
  })
  .meta({ id: 'CheckKind' });
export const checkKindList = z.object({ checkKinds: z.array(checkKind) }).meta({ id: 'CheckKindList' });
export type CheckKindList = z.infer<typeof checkKindList>;

export const checkKindPut = z
  .strictObject({
    ...kindHead,
    choices: kindHead.choices.default([]),
    good: kindHead.good.default([]),
    unitsLeast: kindHead.unitsLeast.default(null),
    how: longText(1000).default(''),
    unit: longText(20).default(''),
    lowest: decimalInput.nullable().default(null),
    highest: decimalInput.nullable().default(null),
    oneOf: longText(60).default(''),
  })
  .refine((kind) => kind.good.every((one) => kind.choices.includes(one)), {
    path: ['good'],
    error: 'must be among the choices',
  })
  .refine((kind) => (kind.measure === 'choice') === kind.good.length > 0, {
    path: ['good'],
    error: 'a choice needs at least one that is good, and only a choice has any',
  })
  .meta({ id: 'CheckKindPut' });
export type CheckKindPut = z.infer<typeof checkKindPut>;

export const benchRulesPut = z
  .strictObject({
    netRule: netRule.describe('By which rule the contents of filled units are judged; local law decides'),
    leaveOn: percentInput.describe('An allergen is named where more of it stays on the skin'),
    rinseOff: percentInput.describe('As leaveOn, for what is rinsed off'),
    allergenSource: lineOfText(300).describe('Where the two figures stand'),
    address: z
      .union([z.literal(''), z.url({ protocol: /^https?$/ }).max(200)])
      .describe('Where these pages are reached from outside; empty takes it from the request'),
  })
  .meta({ id: 'BenchRulesPut' });
export type BenchRulesPut = z.infer<typeof benchRulesPut>;
export const benchRulesView = z
  .object({
    netRule: netRule,
    leaveOnPpb: z.int(),
    rinseOffPpb: z.int(),
    allergenSource: z.string(),
    address: z.string(),
  })
  .meta({ id: 'BenchRulesView' });
export type BenchRules = z.infer<typeof benchRulesView>;

export const checkCreate = z
  .strictObject({
    kind: checkKindCode,
    value: decimalInput.optional().describe('For a number'),
    choice: word.optional().describe('For a choice'),
    weights: z.array(amountInput).min(1).max(1000).optional().describe('For weights: what each unit weighs'),
    tare: amountInput.optional().describe('What the empty container weighs, taken off each; nothing unless said'),
    note: lineOfText(1000).optional(),
    on: isoDay.optional().describe('Today unless said, never a day to come'),
  })
  .refine((body) => [body.value, body.choice, body.weights].filter((one) => one !== undefined).length === 1, {
    error: 'Give one of value, choice and weights.',
  })
  .meta({ id: 'CheckCreate' });
export type CheckCreate = z.infer<typeof checkCreate>;

const netJudgement = z
  .object({
    rule: netRule,
    basis: netBasis,
    label: z.int().describe('What the label states, in milligrams or microlitres, as all amounts here'),
    lotSize: z.int(),
    asked: z.int().describe('How many units the plan takes'),
    weighed: z.int(),
    mean: z.int(),
    deviation: z.int(),
    meanLeast: z.int(),
    allowedShort: z.int().nullable(),
    beyondMost: z.int(),
    beyond: z.int(),
    units: z.array(
      z.object({
        content: z.int(),
        short: z.int(),
        mark: z.enum(['full', 'short', 'beyond', 'far-beyond', 'unjudged']),
      }),
    ),
    verdict: z.enum(['meets', 'fails', 'too-few']),
    reasons: z.array(z.string()),
    notice: z.string(),
  })
  .meta({ id: 'NetJudgement' });

export const checkPhoto = z.object({ id: z.int(), type: z.string(), bytes: z.int() }).meta({ id: 'Photo' });
export type CheckPhoto = z.infer<typeof checkPhoto>;

export const checkResult = z
  .object({
    id: z.int(),
    kind: checkKindCode,
    valueE3: z.int().nullable(),
    lowestE3: limitE3,
    highestE3: limitE3,
    choice: z.string().nullable(),
    weightsMg: z.array(amount).nullable(),
    judgement: netJudgement.nullable(),
    passes: z.boolean(),
    note: z.string(),
    doneOn: isoDay,
    createdBy: z.string(),
    createdAt: z.string(),
    photos: z.array(checkPhoto),
  })
  .meta({ id: 'CheckResult' });
export type CheckResult = z.infer<typeof checkResult>;

export const checksView = z
  .object({
    batch: z.string(),
    item: itemCode,
    label: z
      .object({ basis: netBasis, amount: z.int() })
      .nullable()
      .describe('Net contents of the label, in milligrams or microlitres'),
    checks: z.array(
      checkKind.extend({
        state: z.enum(['open', 'good', 'not-good']),
        results: z.array(checkResult).describe('The newest first: it stands, the others are what was found before'),
      }),
    ),
    missing: z.array(z.string()).describe('Names of what has to be checked before release'),
    failed: z.array(z.string()),
    isReleasable: z.boolean().describe('Nothing that is required is missing or not good'),
  })
  .meta({ id: 'ChecksView' });
export type ChecksView = z.infer<typeof checksView>;
