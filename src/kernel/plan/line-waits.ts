import type { Day } from '../measure/day.js';
import type { Job, LineState } from './job.js';
import { sharesOf } from './line-shares.js';
import type { Model } from './model.js';
import type { Planned } from './planned.js';
import type { PoolSupply } from './pool.js';
import type { Taken } from './proposal.js';
import type { Placed } from './schedule-job.js';

/** What counts for itself: a line, or what of a line that is sent in parts goes on one day. */
export interface LinePart {
  line: LineState;
  quantity: number;
  /** What it counts as, of what a line does. */
  share: number;
  /** Null where it is not covered. */
  wait: LineWait | null;
}

/** What it waits for besides the batches of this plan, and which of these it waits for. */
export interface LineWait {
  /** The day all else is there, and the customer takes it. */
  ready: Day;
  jobs: readonly Job[];
}

/**
 * What lines wait for, by their day: each for all of it; one that is sent in parts for each of them by itself; one of an order
 * that is sent complete for all that the others wait for too.
 */
export function partsOf(model: Model, planned: Planned): LinePart[] {
  const ofOrder = new Map<LineState['together'], LineWait | null>();
  const parts: LinePart[] = [];
  for (const line of planned.netted.lines) {
    if (line.row.sends === 'parts') {
      parts.push(...partsOfLine(model, line, planned));
      continue;
    }
    const { together } = line;
    if (together.length > 0 && !ofOrder.has(together)) ofOrder.set(together, waitOfAll(model, together, planned));
    const wait = together.length > 0 ? ofOrder.get(together)! : waitOf(model, line, planned);
    parts.push({ line, quantity: line.row.quantity, share: model.lineShare, wait });
  }
  return parts;
}

/** Lines of orders that are sent complete and cannot be: nothing is sent of them. */
export function keptBack(model: Model, planned: Planned): ReadonlySet<LineState> {
  const back = new Set<LineState>();
  for (const line of planned.netted.lines) {
    const { together } = line;
    // once for each order, where its first line stands
    if (together[0] !== line || waitOfAll(model, together, planned) !== null) continue;
    for (const other of together) back.add(other);
  }
  return back;
}

function waitOfAll(model: Model, lines: readonly LineState[], planned: Planned): LineWait | null {
  const waits = lines.map((line) => waitOf(model, line, planned));
  if (waits.includes(null)) return null;
  return {
    ready: Math.max(...waits.map((wait) => wait!.ready)),
    jobs: [...new Set(waits.flatMap((wait) => wait!.jobs))],
  };
}

function waitOf(model: Model, line: LineState, planned: Planned): LineWait | null {
  const { shelf } = planned;
  if (missingOf(line, planned) > 0) return null;
  let ready = Math.max(model.today, line.notBefore);
  for (const supply of line.fromMaking) ready = Math.max(ready, supply.from);
  const taken = shelf.lines.get(line)?.taken;
  if (taken) for (const { supply } of suppliesOf(line, taken, planned)) ready = Math.max(ready, supply.from);
  const jobs = line.fromJobs.map(({ job }) => job);
  return jobs.some((job) => shelf.short.has(job)) ? null : { ready, jobs };
}

/** What nothing covers of a line, but for what batches lack that are made for it. */
export const missingOf = (line: LineState, { shelf }: Planned): number =>
  line.missing + line.leftOut + (shelf.lines.get(line)?.missing ?? 0);

/** The lots, deliveries and batches in the making that something is taken of. */
function suppliesOf(
  { item }: LineState,
  taken: readonly Taken[],
  { netted }: Planned,
): { supply: PoolSupply; quantity: number }[] {
  const supplies = netted.pool.get(item.code) ?? [];
  return taken.map(({ from, key, quantity }) => ({
    supply: supplies.find((one) => one.kind === from && one.key === key)!,
    quantity,
  }));
}

/** Of a line that is sent in parts: what is there, what comes and what each batch gives, each by itself. */
export function partsOfLine(model: Model, line: LineState, planned: Planned): LinePart[] {
  const soonest = Math.max(model.today, line.notBefore);
  const taken = [...line.taken, ...(planned.shelf.lines.get(line)?.taken ?? [])];
  const found = [
    ...suppliesOf(line, taken, planned).map(({ supply, quantity }) => ({
      quantity,
      wait: { ready: Math.max(soonest, supply.from), jobs: [] },
    })),
    ...line.fromJobs.map(({ job, quantity }) => ({
      quantity,
      wait: planned.shelf.short.has(job) ? null : { ready: soonest, jobs: [job] },
    })),
  ];
  const missing = missingOf(line, planned);
  const parts = missing > 0 ? [...found, { quantity: missing, wait: null }] : found;
  const shares = sharesOf(
    parts.map(({ quantity }) => quantity),
    model.lineShare,
  );
  return parts.map((part, i) => ({ ...part, line, share: shares[i]! }));
}

/** The day on which what waits for batches can go; null where one of them has no day. */
export function readyOf({ ready, jobs }: LineWait, placedOf: (job: Job) => Placed): Day | null {
  let last: Day = ready;
  for (const job of jobs) {
    const at = placedOf(job).ready;
    if (at === null) return null;
    last = Math.max(last, at);
  }
  return last;
}
