/** By whose rule filled units are judged. The workshop chooses; which one holds where it sells, local law decides. */
export const NET_RULES = ['nist-133', 'eu-76-211'] as const;
export type NetRule = (typeof NET_RULES)[number];

/** What a label states: a weight (amounts in milligrams) or a volume (amounts in microlitres). */
export type NetBasis = 'weight' | 'volume';

export interface NetCase {
  rule: NetRule;
  basis: NetBasis;
  /** What the label states, in milligrams or microlitres. */
  label: number;
  /** What each unit that was weighed holds, in the same. */
  contents: readonly number[];
  /** How many units there are of the lot. */
  lotSize: number;
  /** How much one unit may be short, where the person has looked it up; it stands in place of the table here. */
  allowedShort?: number | null;
}

/**
 * full: at least the label. short: less, within what one unit may be short. beyond: shorter than that. far-beyond: shorter
 * than twice that. unjudged: less than the label, and nobody has said how much one unit may be short.
 */
export type UnitMark = 'full' | 'short' | 'beyond' | 'far-beyond' | 'unjudged';

export interface NetJudgement {
  rule: NetRule;
  basis: NetBasis;
  label: number;
  lotSize: number;
  /** How many units the rule's plan takes of a lot of this size. */
  asked: number;
  weighed: number;
  /** Rounded to the whole milligram or microlitre; judged exactly. */
  mean: number;
  deviation: number;
  /** What the mean must reach, rounded up. */
  meanLeast: number;
  allowedShort: number | null;
  /** How many units beyond it the rule's plan accepts, and how many there are. */
  beyondMost: number;
  beyond: number;
  units: { content: number; short: number; mark: UnitMark }[];
  /** too-few: nothing speaks against it, but fewer units were weighed than the plan takes. */
  verdict: 'meets' | 'fails' | 'too-few';
  /** Why, a sentence each. */
  reasons: string[];
}

interface Plan {
  asked: number;
  beyondMost: number;
  /** From so many on the lot is refused; between, the second sample decides. */
  second?: { asked: number; beyondMost: number; refusedFrom: number };
  /** Times the standard deviation, what the mean may lie below the label. */
  factor: number;
}

/**
 * Judges what filled units hold against what their label states, as the person who fills may do beforehand: no answer of
 * this is an approval. Weighing is taken as exact; tare is taken off before. Throws RangeError for amounts that are not
 * whole and above zero, for no units, and for more units than the lot has.
 */
export function judgeNetContents(asked: NetCase): NetJudgement {
  const { rule, label, contents, lotSize } = asked;
  for (const amount of [label, lotSize]) refuseUnless(Number.isSafeInteger(amount) && amount > 0);
  refuseUnless(contents.length > 0 && contents.length <= lotSize);
  for (const content of contents) refuseUnless(Number.isSafeInteger(content) && content >= 0);
  const allowedShort = asked.allowedShort ?? shortAllowed(rule, asked.basis, label);
  const units = contents.map((content) => markUnit(content, label, allowedShort, rule));
  const beyond = units.filter(({ mark }) => mark === 'beyond' || mark === 'far-beyond').length;
  const plan = stageOf(planFor(rule, lotSize), contents.length, beyond);
  const mean = contents.reduce((sum, content) => sum + content, 0) / contents.length;
  const deviation = deviationOf(contents, mean);
  // what is weighed whole is not estimated: then the average itself must reach the label, stricter than the plans are
  const meanLeast = contents.length === lotSize ? label : label - plan.factor * deviation;
  const counted = { asked, plan, units, allowedShort, beyond };
  const faults = faultsOf({ ...counted, mean, meanLeast });
  const open = faults.length > 0 ? [] : openOf(counted);
  return {
    rule,
    basis: asked.basis,
    label,
    lotSize,
    asked: plan.asked,
    weighed: contents.length,
    mean: Math.round(mean),
    deviation: Math.round(deviation),
    meanLeast: Math.ceil(meanLeast),
    allowedShort,
    beyondMost: plan.beyondMost,
    beyond,
    units,
    verdict: faults.length > 0 ? 'fails' : open.length > 0 ? 'too-few' : 'meets',
    reasons: [...faults, ...open],
  };
}

interface Counted {
  asked: NetCase;
  plan: Plan;
  units: NetJudgement['units'];
  allowedShort: number | null;
  beyond: number;
}

function faultsOf({ asked, plan, units, beyond, mean, meanLeast }: Counted & { mean: number; meanLeast: number }) {
  const far = units.filter(({ mark }) => mark === 'far-beyond').length;
  const faults: string[] = [];
  // of fewer units than the plan takes the average says nothing yet
  if (mean < meanLeast && asked.contents.length >= plan.asked)
    faults.push(`The average, ${amountIn(mean, asked)}, is less than the ${amountIn(meanLeast, asked)} it must reach.`);
  if (far > 0) faults.push(`${count(far)} short by more than twice what one may be short.`);
  if (beyond > plan.beyondMost && plan.second === undefined)
    faults.push(`${count(beyond)} short by more than one may be; the plan accepts ${plan.beyondMost}.`);
  return faults;
}

function openOf({ asked, plan, units, beyond }: Counted): string[] {
  const unjudged = units.filter(({ mark }) => mark === 'unjudged').length;
  const open: string[] = [];
  if (unjudged > 0)
    open.push(`${count(unjudged)} short, and how much one may be short is not said: look it up for this label.`);
  if (asked.contents.length < plan.asked)
    open.push(`${asked.contents.length} weighed; of ${asked.lotSize} the plan takes ${plan.asked}.`);
  else if (beyond > plan.beyondMost && plan.second)
    open.push(`${count(beyond)} short by more than one may be: weigh ${plan.second.asked} in all.`);
  return open;
}

const count = (n: number): string => (n === 1 ? '1 unit is' : `${n} units are`);

function amountIn(amount: number, { basis }: NetCase): string {
  return `${(amount / 1000).toFixed(2)} ${basis === 'weight' ? 'g' : 'ml'}`;
}

function markUnit(
  content: number,
  label: number,
  allowed: number | null,
  rule: NetRule,
): NetJudgement['units'][number] {
  const short = Math.max(0, label - content);
  if (short === 0) return { content, short, mark: 'full' };
  if (allowed === null) return { content, short, mark: 'unjudged' };
  if (short <= allowed) return { content, short, mark: 'short' };
  // only the directive knows a second line at twice the error
  return { content, short, mark: rule === 'eu-76-211' && short > 2 * allowed ? 'far-beyond' : 'beyond' };
}

/** Of a sample: divided by one less than its size; none of a single unit. */
function deviationOf(contents: readonly number[], mean: number): number {
  if (contents.length < 2) return 0;
  return Math.sqrt(contents.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (contents.length - 1));
}

/** The plan's first sample, or the second where it was weighed or is called for. */
function stageOf(plan: Plan, weighed: number, beyond: number): Plan {
  const { second } = plan;
  if (!second) return plan;
  if (weighed >= second.asked)
    return { ...plan, asked: second.asked, beyondMost: second.beyondMost, second: undefined };
  // refused at once, without a second sample
  return beyond >= second.refusedFrom ? { ...plan, second: undefined } : plan;
}

/** How many are taken of a lot, how many of them may be beyond, and how far below the label their mean may lie. */
export function planFor(rule: NetRule, lotSize: number): Plan {
  if (rule === 'nist-133') {
    const asked = lotSize <= 12 ? lotSize : lotSize <= 250 ? 12 : lotSize <= 3200 ? 24 : 48;
    return { asked, beyondMost: asked === 48 ? 1 : 0, factor: NIST_FACTORS[asked] ?? 0 };
  }
  // smaller lots are weighed whole: then nothing is estimated, and 2.5 % of the units may be beyond
  if (lotSize < 100) return { asked: lotSize, beyondMost: Math.floor(lotSize / 40), factor: 0 };
  if (lotSize <= 500)
    return { asked: 30, beyondMost: 1, second: { asked: 60, beyondMost: 4, refusedFrom: 3 }, factor: 0.503 };
  if (lotSize <= 3200)
    return { asked: 50, beyondMost: 2, second: { asked: 100, beyondMost: 6, refusedFrom: 5 }, factor: 0.379 };
  return { asked: 80, beyondMost: 3, second: { asked: 160, beyondMost: 8, refusedFrom: 7 }, factor: 0.379 };
}

/*
 * NIST Handbook 133, appendix A, table 2-1, category A: sample sizes and sample correction factors (from memory). Each is
 * Student's t for 97.5 % at n - 1 degrees of freedom, over the root of n, so the test computes them anew.
 */
const NIST_FACTORS: Readonly<Record<number, number>> = {
  2: 8.985,
  3: 2.484,
  4: 1.591,
  5: 1.242,
  6: 1.049,
  7: 0.925,
  8: 0.836,
  9: 0.769,
  10: 0.715,
  11: 0.672,
  12: 0.635,
  24: 0.422,
  48: 0.29,
};

/**
 * NIST Handbook 133, appendix A, table 2-5, packages labelled by weight: label up to, and what one may be short, in
 * milligrams (from memory; agrees with two quoted cells, 113 g -> 7 g and 3 oz -> 0.25 oz). Up to 36 g it is 10 %.
 */
const NIST_BY_WEIGHT: readonly (readonly [upTo: number, short: number])[] = [
  [54_000, 3_600],
  [81_000, 5_400],
  [117_000, 7_200],
  [154_000, 9_000],
  [208_000, 10_800],
  [263_000, 12_700],
  [317_000, 14_500],
  [381_000, 16_300],
  [426_000, 18_100],
  [489_000, 19_900],
  [571_000, 21_700],
  [635_000, 23_500],
  [698_000, 25_400],
  [771_000, 27_200],
  [852_000, 29_000],
  [970_000, 31_700],
];

/**
 * How much one unit may be short, in the label's own unit; null where no table is kept here: beyond the table's end, and
 * for volumes under Handbook 133, whose table 2-6 has to be looked up.
 */
export function shortAllowed(rule: NetRule, basis: NetBasis, label: number): number | null {
  if (rule === 'eu-76-211') return tolerableError(label);
  if (basis === 'volume') return null;
  if (label <= 36_000) return Math.floor(label / 10);
  return NIST_BY_WEIGHT.find(([upTo]) => label <= upTo)?.[1] ?? null;
}

/**
 * Council Directive 76/211/EEC, annex I, point 2.4: tolerable negative error of a nominal quantity of 5 to 10 000 g or ml;
 * errors stated in percent are rounded up to the next tenth of a gram or millilitre.
 */
function tolerableError(label: number): number | null {
  const percent = (perMille: number): number => Math.ceil((label * perMille) / 100_000) * 100;
  if (label < 5_000 || label > 10_000_000) return null;
  if (label <= 50_000) return percent(90);
  if (label <= 100_000) return 4_500;
  if (label <= 200_000) return percent(45);
  if (label <= 300_000) return 9_000;
  if (label <= 500_000) return percent(30);
  if (label <= 1_000_000) return 15_000;
  return percent(15);
}

function refuseUnless(isRight: boolean): void {
  if (!isRight) throw new RangeError('net contents are judged on whole amounts of some of the units of a lot');
}
