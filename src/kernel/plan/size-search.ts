import { type Attempt, isBetter } from './attempt.js';
import { WINDOW_DAYS } from './lot-sizing.js';
import { type ItemModel, largestIn, type Model, smallestBatch } from './model.js';
import type { SizeChoice } from './netting.js';
import { goSoonest } from './search.js';

/** For how many days one batch may be made: each need alone, some days, or weeks at once. */
const WINDOWS = [0, 3, WINDOW_DAYS, 14, 28];

type Sizes = ReadonlyMap<string, SizeChoice>;

/** A plan, and how its batches are sized where it is not as usual. */
export interface Sized {
  attempt: Attempt;
  sizes: Sizes;
}

/**
 * Tries other sizes of the batches of one item after the other, as long as that serves orders better: made for fewer days or
 * for more at once, or so small that a smaller vessel holds them. `tryWith` answers null where the batches stay the same;
 * it is asked as long as `mayTry` says so.
 */
export function searchSizes(
  model: Model,
  first: Attempt,
  tryWith: (sizes: Sizes) => Attempt | null,
  mayTry: () => boolean,
): Sized {
  let best: Sized = { attempt: first, sizes: new Map() };
  for (let isFound = true; isFound && !goSoonest(model, best.attempt);) {
    isFound = false;
    for (const item of itemsOf(model, best.attempt))
      for (const choice of choicesFor(model, item)) {
        if (isSame(best.sizes.get(item.code), choice)) continue;
        const sizes = new Map(best.sizes).set(item.code, choice);
        if (!mayTry()) return best;
        const attempt = tryWith(sizes);
        if (attempt === null || !isBetter(attempt, best.attempt)) continue;
        best = { attempt, sizes };
        isFound = true;
        break;
      }
  }
  return best;
}

/** What is made of it, those first that late lines wait for. */
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

function choicesFor(model: Model, item: ItemModel): SizeChoice[] {
  const least = smallestBatch(item);
  const mosts = new Set([item.largestBatch]);
  for (const { kind, capacityMg } of model.snapshot.vessels)
    if (kind === item.formula?.vesselKind) {
      const most = largestIn(item.formula, capacityMg, model.snapshot.workshop.scaleStepMg);
      if (most >= least && most < item.largestBatch) mosts.add(most);
    }
  return [...mosts].flatMap((most) => WINDOWS.map((windowDays) => ({ windowDays, most })));
}

const isSame = (one: SizeChoice | undefined, { windowDays, most }: SizeChoice): boolean =>
  one?.windowDays === windowDays && one.most === most;
