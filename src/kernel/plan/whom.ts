import type { Attempt } from './attempt.js';
import type { Job, LineState } from './job.js';
import type { Term } from './terms.js';
import { mulDivCeil } from '../measure/ratio.js';

/** What a line, or an order that is sent complete, takes of each scarce material, by its place in the list of those. */
interface Claim {
  lines: readonly LineState[];
  weight: number;
  takes: readonly number[];
}

/** So often what a scarce material costs is set anew by how much of it is wanted; for many lines less often. */
const PRICINGS = { least: 2, most: 24, claims: 24_000 };

/**
 * Where there is not enough for all: order lines that are to go without, so that as many others as possible, by weight, get
 * all they need; and all lines of an order that is sent complete and cannot be. Empty where nothing is scarce.
 */
export function linesToLeave(attempt: Attempt, terms: readonly Term[]): Set<string> {
  const scarce = scarceItems(attempt);
  const { netted } = attempt;
  const there = scarce.map((item) => {
    const supplies = netted.pool.get(item) ?? [];
    return supplies.reduce((sum, { quantity }) => sum + quantity, 0);
  });
  const possible = servedAtOnce(netted.lines).filter((lines) => lines.every(({ leftOut }) => leftOut === 0));
  const hopeless = possible.filter((lines) => lines[0]!.together.length > 0 && !canBeCovered(lines, attempt));
  const claims = possible
    .filter((lines) => !hopeless.includes(lines))
    .map((lines) => claimOf(lines, scarce, terms))
    .filter(({ takes }) => takes.some((take) => take > 0));
  const served = bestServed(claims, there);
  const without = claims.filter((claim) => !served.has(claim)).flatMap(({ lines }) => lines);
  return new Set([...hopeless.flat(), ...without].map(({ row }) => row.key));
}

/** Each line by itself; those of an order that is sent complete together, where the first of them stands. */
function servedAtOnce(lines: readonly LineState[]): (readonly LineState[])[] {
  return lines.flatMap((line) =>
    line.together.length === 0 ? [[line]] : line.together[0] === line ? [line.together] : [],
  );
}

/** Whether nothing but what is scarce stands in the way of these lines. */
function canBeCovered(lines: readonly LineState[], { placed }: Attempt): boolean {
  const canBeMade = (job: Job): boolean =>
    placed.get(job)!.day !== null &&
    job.inputs.every(({ missing }) => missing === 0) &&
    job.sources.every((source) => canBeMade(source.job));
  return lines.every(({ missing, fromJobs }) => missing === 0 && fromJobs.every(({ job }) => canBeMade(job)));
}

function claimOf(lines: readonly LineState[], scarce: readonly string[], terms: readonly Term[]): Claim {
  const takes = lines.map((line) => takesOf(line, scarce));
  return {
    lines,
    weight: lines.reduce((sum, line) => sum + weightOf(line, terms), 0),
    takes: scarce.map((_, i) => takes.reduce((sum, take) => sum + take[i]!, 0)),
  };
}

const URGENT = 1_000_000;

/** An urgent line goes before all that are not, unless the workshop lets the weight of lines count before that. */
export function weightOf({ row }: LineState, terms: readonly Term[]): number {
  const first = terms.find((term) => term === 'urgent' || term === 'uncovered' || term === 'late');
  return (row.weight ?? 1) + (row.urgent && first === 'urgent' ? URGENT : 0);
}

function scarceItems({ netted, shelf }: Attempt): string[] {
  const items = new Set<string>();
  for (const job of netted.jobs)
    for (const input of job.inputs) if ((shelf.inputs.get(input)?.missing ?? 0) > 0) items.add(input.item.code);
  for (const line of netted.lines) if ((shelf.lines.get(line)?.missing ?? 0) > 0) items.add(line.item.code);
  return [...items];
}

/** What a line takes of each scarce item, through all that it is made from, rounded up at each step. */
function takesOf(line: LineState, scarce: readonly string[]): number[] {
  const takes = new Map([[line.item.code, line.fromShelf]]);
  const addFor = (job: Job, quantity: number): void => {
    for (const input of job.inputs) {
      const { code, row } = input.item;
      if (row.stocked) takes.set(code, (takes.get(code) ?? 0) + mulDivCeil(input.fromShelf, quantity, job.output));
      for (const { job: source, quantity: drawn } of input.fromJobs)
        addFor(source, mulDivCeil(drawn, quantity, job.output));
    }
  };
  for (const { job, quantity } of line.fromJobs) addFor(job, quantity);
  return scarce.map((item) => takes.get(item) ?? 0);
}

/**
 * Lines that weigh most in all and take no more of anything than there is: by what each takes, at prices that rise with
 * what is wanted of it; and then by exchange, as long as that serves more.
 */
function bestServed(claims: readonly Claim[], there: readonly number[]): ReadonlySet<Claim> {
  const prices = there.map((amount) => 1 / Math.max(1, amount));
  const average = there.map((_, i) => takenOf(claims, i) / claims.length);
  let best: ReadonlySet<Claim> = new Set();
  // Stryker disable next-line MethodExpression,ArithmeticOperator: for more than a thousand lines fewer, and never too many
  const pricings = Math.max(PRICINGS.least, Math.min(PRICINGS.most, PRICINGS.claims / claims.length));
  // Stryker disable next-line EqualityOperator: one more can only serve more
  for (let n = 0; n < pricings; n++) {
    const served = exchanged(claims, there, greedy(claims, there, prices));
    // Stryker disable next-line EqualityOperator: of those that weigh the same either will do
    if (weightIn(served) > weightIn(best)) best = served;
    for (const [i, amount] of there.entries()) {
      const left = amount - takenOf([...served], i);
      // what is left over is worth less next time
      prices[i]! *= left > average[i]! ? 0.7 : 1.2;
    }
  }
  return best;
}

const takenOf = (claims: readonly Claim[], i: number): number => claims.reduce((sum, { takes }) => sum + takes[i]!, 0);

const weightIn = (claims: Iterable<Claim>): number => [...claims].reduce((sum, { weight }) => sum + weight, 0);

function greedy(claims: readonly Claim[], there: readonly number[], prices: readonly number[]): Set<Claim> {
  const costOf = ({ takes, weight }: Claim): number =>
    takes.reduce((sum, take, i) => sum + take * prices[i]!, 0) / weight;
  // of the same cost those that are due first, as they come
  const inOrder = claims.map((claim) => ({ claim, cost: costOf(claim) })).sort((a, b) => a.cost - b.cost);
  const left = [...there];
  const chosen = new Set<Claim>();
  for (const { claim } of inOrder) {
    if (!fits(claim, left)) continue;
    take(claim, left, 1);
    chosen.add(claim);
  }
  return chosen;
}

/** One line out and others in, as long as these weigh more. */
function exchanged(claims: readonly Claim[], there: readonly number[], chosen: Set<Claim>): Set<Claim> {
  const left = [...there];
  for (const claim of chosen) take(claim, left, 1);
  // what is exchanged is looked for among so many lines only
  if (claims.length > EXCHANGED_AMONG) return chosen;
  for (let isBetter = true; isBetter;) {
    isBetter = false;
    for (const out of chosen) {
      take(out, left, -1);
      const ins: Claim[] = [];
      for (const other of claims)
        if (!chosen.has(other) && fits(other, left)) {
          take(other, left, 1);
          ins.push(other);
        }
      if (weightIn(ins) > out.weight) {
        chosen.delete(out);
        for (const one of ins) chosen.add(one);
        isBetter = true;
        continue;
      }
      for (const one of ins) take(one, left, -1);
      take(out, left, 1);
    }
  }
  return chosen;
}

const EXCHANGED_AMONG = 200;

const fits = ({ takes }: Claim, left: readonly number[]): boolean => takes.every((take_, i) => take_ <= left[i]!);
const take = ({ takes }: Claim, left: number[], by: 1 | -1): void => {
  for (const [i, amount] of takes.entries()) left[i]! -= by * amount;
};
