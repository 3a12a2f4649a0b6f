import { lastThat } from '../measure/ratio.js';
import type { Job, LineState } from './job.js';
import type { Model } from './model.js';
import { type Cut, type Learned, net, type Netted, UNCUT } from './netting.js';

/**
 * What must be made, of as much as a plan holds: all of it, or order lines by their day before stock targets until not one
 * piece more fits. Answers with it the cut that was made; `cut` is the one that did before.
 */
export function netWithin(
  model: Model,
  noRefill: ReadonlySet<string>,
  learned: Learned,
  cut: Cut,
): { netted: Netted; cut: Cut } {
  const netBy = (by: Cut): Netted => net(model, noRefill, learned, by);
  const asBefore = netBy(cut);
  if (!asBefore.isOver && (cut.whole === UNCUT.whole || netBy(oneMore(model, cut)).isOver))
    return { netted: asBefore, cut };
  const places = model.lines.length + model.made.length;
  let best = { netted: netBy({ whole: 0, part: 0 }), cut: { whole: 0, part: 0 } };
  const fits = (by: Cut): boolean => {
    const netted = netBy(by);
    if (!netted.isOver) best = { netted, cut: by };
    return !netted.isOver;
  };
  const whole = lastThat(places - 1, (n) => fits({ whole: n, part: 0 }));
  lastThat(mostAt(model, whole), (part) => fits({ whole, part }));
  return best;
}

/**
 * Batches that are only for a line which the plan does not hold whole: it cannot go before more is planned, so that they
 * take the room which all other orders leave.
 */
export function forPartsOfLines({ jobs, lines }: Netted): ReadonlySet<Job> {
  const found = new Set<Job>();
  // Stryker disable next-line ArrowFunction,ConditionalExpression: where nothing is left out it is only quicker
  if (lines.every(({ leftOut }) => leftOut === 0)) return found;
  // what a batch is made for stands before it in the list
  for (const job of jobs) {
    const wanted = job.pegs.filter(({ line, job: consumer }) => line ?? consumer);
    const isForPart = wanted.every(({ line, job: consumer }) => (line ? lacksRoom(line) : found.has(consumer!)));
    if (wanted.length > 0 && isForPart) found.add(job);
  }
  return found;
}

/** Whether the plan does not hold all of it, or of what goes with it. */
const lacksRoom = ({ leftOut, together }: LineState): boolean =>
  leftOut > 0 || together.some((other) => other.leftOut > 0);

/** Where it were wrong, all would be looked for again, and the same be found. */
const oneMore = (model: Model, { whole, part }: Cut): Cut =>
  // Stryker disable next-line ConditionalExpression,EqualityOperator,ObjectLiteral,ArithmeticOperator: as it says above
  part < mostAt(model, whole) ? { whole, part: part + 1 } : { whole: whole + 1, part: 0 };

/** The most of what stands at a place of the cut that could fit. */
function mostAt({ lines, made }: Model, place: number): number {
  const line = lines.find((one) => one.place === place);
  const item = line?.item ?? made[place - lines.length]!;
  return Math.min(line?.row.quantity ?? item.row.target, item.mostInPlan);
}
