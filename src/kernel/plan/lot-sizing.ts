import type { Day } from '../measure/day.js';
import { roundDownTo, roundUpTo } from '../measure/ratio.js';

/** A need that batches of one item must cover. */
export interface SizingNeed {
  quantity: number;
  /** Latest day the batch covering it may start. */
  latest: Day;
  tier: 0 | 1;
  /** The last day it must still be good. */
  keptUntil: Day;
  /** True where all of it must come out of one batch: it is filled straight from that batch's vessel. */
  whole: boolean;
}

export interface SizingLimits {
  /** Smallest and largest output of a batch, and the step between; in the item's base unit. */
  min: number;
  max: number;
  multiple: number;
  /** First day anything can be made: needs that should have been started before it count as due then. */
  start: Day;
  /** How many days the output keeps after the batch started; Infinity when it keeps. */
  keepsDays: number;
  /** Needs due within so many days of the first one share batches. */
  windowDays: number;
}

/** One batch: its output, and how much of it each need (by index) gets. The rest of the output is surplus. */
export interface SizedBatch {
  output: number;
  latest: Day;
  tier: 0 | 1;
  shares: { need: number; quantity: number; leftover: boolean }[];
}

interface OpenBatch extends SizedBatch {
  /** Running number of the seven days it gathers needs from. */
  week: number;
  used: number;
}

/** How long, unless said otherwise: a week's needs are made at once. */
export const WINDOW_DAYS = 7;

/**
 * In how many batches? Needs due within `windowDays` of the first share batches, orders' needs first, each batch within `min`
 * and `max` and a multiple of `multiple`. What a rounded-up batch leaves over serves later needs before a new batch is opened.
 * Needs must be sorted by tier, then latest, so that the answer does not depend on the order of rows. Where it takes
 * more than `atMost` batches it is given up, with one batch more than that.
 */
export function sizeBatches(
  needs: readonly SizingNeed[],
  limits: SizingLimits,
  atMost = Number.POSITIVE_INFINITY,
): SizedBatch[] {
  const most = Math.max(roundDownTo(limits.max, limits.multiple), limits.multiple);
  const open: OpenBatch[] = [];
  // in the order they were opened; most batches of a large amount are full, and looked at no more
  const notFull = new Set<OpenBatch>();
  const windows: Day[] = [];
  for (const [index, need] of needs.entries()) {
    const week = windowOf(windows, Math.max(need.latest, limits.start), limits.windowDays);
    let wanted = takeLeftovers(need, index, week, notFull, limits);
    while (wanted > 0) {
      const room = need.whole ? Math.min(wanted, most) : 1;
      let batch = firstWithRoom(notFull, need, week, most - room, limits);
      if (!batch) {
        if (open.length > atMost) return open;
        batch = { output: 0, latest: need.latest, tier: need.tier, shares: [], week, used: 0 };
        open.push(batch);
        notFull.add(batch);
      }
      const quantity = Math.min(wanted, most - batch.used);
      batch.shares.push({ need: index, quantity, leftover: false });
      batch.used += quantity;
      // stock never makes a customer's batch earlier
      if (need.tier <= batch.tier) batch.latest = Math.min(batch.latest, need.latest);
      batch.output = Math.min(
        most,
        Math.max(roundUpTo(limits.min, limits.multiple), roundUpTo(batch.used, limits.multiple)),
      );
      if (batch.used === most) notFull.delete(batch);
      wanted -= quantity;
    }
  }
  return open
    .sort((a, b) => a.week - b.week)
    .map(({ output, latest, tier, shares }) => ({ output, latest, tier, shares }));
}

/** Of one week's batches the first that has been given no more than `usedMost`, and is good for the need. */
function firstWithRoom(
  notFull: ReadonlySet<OpenBatch>,
  need: SizingNeed,
  week: number,
  usedMost: number,
  limits: SizingLimits,
): OpenBatch | undefined {
  for (const one of notFull) if (one.week === week && one.used <= usedMost && isGoodFor(one, need, limits)) return one;
  return undefined;
}

/** The number of the window a day falls in, in order of time; a new one opens where it falls in none. */
function windowOf(windows: Day[], day: Day, days: number): number {
  const found = windows.findIndex((from) => from <= day && day < from + days);
  // stock may be due before the first order's window: it joins that one rather than open another beside it
  if (found >= 0) return found;
  // Stryker disable next-line EqualityOperator: the first day of the first window was found in it above
  if (windows.length > 0 && day < windows[0]!) return 0;
  windows.push(day);
  return windows.length - 1;
}

/** Gives a need what earlier weeks' batches have left over; answers what it still wants. */
function takeLeftovers(
  need: SizingNeed,
  index: number,
  week: number,
  open: ReadonlySet<OpenBatch>,
  limits: SizingLimits,
): number {
  let wanted = need.quantity;
  for (const batch of open) {
    if (wanted === 0) break;
    const spare = batch.output - batch.used;
    if (batch.week >= week || spare === 0 || batch.latest + limits.keepsDays < need.latest) continue;
    if (!isGoodFor(batch, need, limits)) continue;
    // a filling is not mixed from two pours for the sake of a remainder
    if (need.whole && spare < wanted) continue;
    const quantity = Math.min(wanted, spare);
    batch.shares.push({ need: index, quantity, leftover: true });
    batch.used += quantity;
    wanted -= quantity;
  }
  return wanted;
}

/** Whether what is made on the day the batch is due keeps for as long as the need asks. */
const isGoodFor = (batch: OpenBatch, need: SizingNeed, { start, keepsDays }: SizingLimits): boolean =>
  Math.max(batch.latest, start) + keepsDays >= need.keptUntil;
