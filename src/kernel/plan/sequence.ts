import { Figures } from './random.js';
import { chainsOf, type Waiting } from './sequence-chains.js';
import { Judge } from './sequence-judge.js';
import { compareService, type Service } from './terms.js';

/** So many pours, and up to so many more, are exchanged with near ones when no change of one or two betters anything. */
const SHAKEN = { least: 3, more: 6, near: 5 };

/** Judging an order takes as long as it has pours: so many of these are judged at most. */
const JUDGED_MOST = 12_000_000;

/** An order, by places, and what it costs. */
interface Sequence {
  order: readonly number[];
  cost: Service;
}

/** How orders are judged, and how many more may be. */
interface Search {
  judge: Judge;
  left: number;
  /** Whether nothing costs less, so that nothing better is looked for. */
  isLeast: (cost: Service) => boolean;
}

/**
 * Where batches wait for nothing but vessels: an order of them in which lines are served better than in the one given, pours
 * first, each of which takes the vessel that is free first. Null where there is none, or where more keeps them, so that the
 * one given cost something else than it would by vessels alone. One pour goes elsewhere or two change places as long as that
 * betters anything; then some are shaken and it begins anew, until so many orders were judged for each two pours. (So the
 * best orders of forty jobs for one machine are found: H. A. J. Crauwels, C. N. Potts and L. N. Van Wassenhove, 1998.)
 */
export function bestSequence(waiting: Waiting, { order, cost: seen }: Sequence, ordersAPair: number): number[] | null {
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (ordersAPair === 0) return null;
  const { pours, lines } = chainsOf(waiting, order);
  const { length } = pours;
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (length < 2) return null;
  const judge = new Judge(waiting, pours, lines);
  const first = pours.map((_, place) => place);
  const given = judge.costOfAny(first);
  if (given === null || compareService(given, seen) !== 0) return null;
  const isLeast = (cost: Service): boolean => waiting.least !== undefined && compareService(waiting.least, cost) >= 0;
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (isLeast(given)) return null;
  const figures = new Figures();
  // Stryker disable next-line ArithmeticOperator: it bounds the work
  const search = { judge, left: Math.min((ordersAPair * length * (length - 1)) / 2, JUDGED_MOST / length), isLeast };
  let best: Sequence = { order: first, cost: given };
  for (let current = best; search.left > 0; current = shaken(best, search, figures)) {
    const found = descended(current, search);
    // Stryker disable next-line EqualityOperator: another that is as good
    if (compareService(found.cost, best.cost) < 0) best = found;
  }
  if (compareService(best.cost, given) >= 0) return null;
  const inSequence = best.order.map((place) => pours[place]!.job);
  const chosen = new Set(inSequence);
  return [...inSequence, ...order.filter((job) => !chosen.has(job))];
}

/** As good as it gets by moving one pour, or exchanging two. */
function descended(from: Sequence, search: Search): Sequence {
  const order = [...from.order];
  const { judge } = search;
  let { cost } = from;
  judge.keep(order, cost);
  const isTaken = (changedFrom: number): boolean => {
    search.left--;
    const other = judge.costOf(order, changedFrom);
    if (other === null || compareService(other, cost) >= 0) return false;
    cost = other;
    // Stryker disable next-line ConditionalExpression: it is only quicker
    if (search.isLeast(cost)) search.left = 0;
    else judge.keep(order, cost);
    return true;
  };
  // Stryker disable next-line ConditionalExpression,EqualityOperator: it bounds the work
  for (let isFound = true; isFound && search.left > 0;) {
    isFound = false;
    for (let i = 0; i < order.length; i++)
      // Stryker disable next-line ConditionalExpression,EqualityOperator: it bounds the work
      for (let j = 0; j < order.length && search.left > 0; j++) {
        // Stryker disable next-line ConditionalExpression: it is only quicker
        if (i === j) continue;
        move(order, i, j);
        if (isTaken(Math.min(i, j))) isFound = true;
        else move(order, j, i);
        // Stryker disable next-line ConditionalExpression,EqualityOperator,ArithmeticOperator: neighbours have changed places
        if (j <= i + 1) continue;
        exchange(order, i, j);
        if (isTaken(i)) isFound = true;
        else exchange(order, i, j);
      }
  }
  return { order, cost };
}

function shaken(best: Sequence, { judge }: Search, figures: Figures): Sequence {
  const order = [...best.order];
  // Stryker disable next-line ArithmeticOperator,EqualityOperator: a shake more or less
  for (let n = SHAKEN.least + figures.below(SHAKEN.more); n > 0; n--) {
    const i = figures.below(order.length);
    exchange(order, i, Math.min(order.length - 1, i + 1 + figures.below(SHAKEN.near)));
  }
  const cost = judge.costOfAny(order);
  return cost ? { order, cost } : best;
}

function move(order: number[], from: number, to: number): void {
  const one = order[from]!;
  // Stryker disable next-line EqualityOperator: to its own place it makes no step
  const step = from < to ? 1 : -1;
  for (let i = from; i !== to; i += step) order[i] = order[i + step]!;
  order[to] = one;
}

function exchange(order: number[], i: number, j: number): void {
  [order[i], order[j]] = [order[j]!, order[i]!];
}
