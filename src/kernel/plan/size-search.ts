import type { Attempt } from './attempt.js';
import { WINDOW_DAYS } from './lot-sizing.js';
import { type ItemModel, largestIn, type Model, smallestBatch } from './model.js';
import type { SizeChoice } from './netting.js';
import { goSoonest } from './search.js';
import { endingLots } from './waste.js';

/** For how many days one batch may be made: each need alone, some days, or weeks at once. */
const LONGEST_WINDOW = 28;
const WINDOWS = [0, 3, WINDOW_DAYS, 14, LONGEST_WINDOW];

/** In other orders than that in which they are due. */
const MIXES = [1, 2, 3, 4, 5, 6];

type Sizes = ReadonlyMap<string, SizeChoice>;

/** A plan, and how its batches are sized where it is not as usual. */
export interface Sized {
  attempt: Attempt;
  sizes: Sizes;
}

/** How other sizes are tried. */
export interface SizeTrial {
  mayTry(): boolean;
  /** Null where the batches stay the same. */
  tryWith(sizes: Sizes): Attempt | null;
  /** Whether it serves better than the best so far, and all that it says is so. */
  isTaken(attempt: Attempt, best: Attempt): boolean;
}

/**
 * Tries other sizes of the batches of one item after the other, as long as that serves orders better: made for fewer days or
 * for more at once, in two, for other needs together, or so small that a smaller vessel holds them.
 */
export function searchSizes(model: Model, first: Attempt, trial: SizeTrial): Sized {
  let best: Sized = { attempt: first, sizes: new Map() };
  // nothing late could go sooner: only a lot that ends is at stake
  let isForLots = goSoonest(model, first);
  for (let isFound = true; isFound;) {
    isFound = false;
    for (const item of isForLots ? usersOfEndingLots(model, best.attempt) : itemsOf(model, best.attempt))
      for (const choice of choicesFor(model, item, best.attempt, isForLots)) {
        if (isSame(best.sizes.get(item.code), choice)) continue;
        const sizes = new Map(best.sizes).set(item.code, choice);
        if (!trial.mayTry()) return best;
        const attempt = trial.tryWith(sizes);
        if (attempt === null || !trial.isTaken(attempt, best.attempt)) continue;
        best = { attempt, sizes };
        isForLots = goSoonest(model, attempt);
        isFound = true;
        break;
      }
  }
  return best;
}

function usersOfEndingLots(model: Model, attempt: Attempt): Iterable<ItemModel> {
  const ending = new Set(endingLots(model, attempt).map(({ row }) => row.item));
  const users = attempt.netted.jobs.filter(({ inputs }) => inputs.some(({ item }) => ending.has(item.code)));
  return new Set(users.map(({ item }) => item));
}

/** What is made, those first that late lines wait for. */
function itemsOf(model: Model, { netted, placed }: Attempt): ItemModel[] {
  const late = new Set<ItemModel>();
  const made = new Set<ItemModel>();
  for (const job of netted.jobs) {
    made.add(job.item);
    const isLate = job.pegs.some(({ line }) => line && (placed.get(job)!.ready ?? Infinity) > line.shipBy);
    if (!isLate) continue;
    late.add(job.item);
    for (const { job: source } of job.sources) late.add(source.item);
  }
  return [...late, ...model.made.filter((item) => made.has(item) && !late.has(item))];
}

function choicesFor(model: Model, item: ItemModel, { netted }: Attempt, isForLots: boolean): SizeChoice[] {
  const { largestBatch: usual } = item;
  const formula = item.formula!;
  const mosts = new Set<number>();
  for (const { kind, capacityMg } of model.snapshot.vessels)
    if (kind === formula.vesselKind) mosts.add(largestIn(model, formula, capacityMg));
  // what is made at once in two, one of which may fit into the days before its lot ends
  if (isForLots) {
    const outputs = netted.jobs.filter((job) => job.item === item).map(({ output }) => output);
    mosts.add(Math.ceil(Math.max(0, ...outputs) / 2));
  }
  const smaller = [...mosts].filter((most) => most >= smallestBatch(item) && most < usual);
  return [
    ...WINDOWS.map((windowDays) => ({ windowDays, most: usual, mix: 0 })),
    ...smaller.flatMap((most) => WINDOWS.map((windowDays) => ({ windowDays, most, mix: 0 }))),
    ...(formula.vesselKind === null ? [] : MIXES).map((mix) => ({ windowDays: LONGEST_WINDOW, most: usual, mix })),
  ];
}

const isSame = (one: SizeChoice | undefined, { windowDays, most, mix }: SizeChoice): boolean =>
  one?.windowDays === windowDays && one.most === most && one.mix === mix;
