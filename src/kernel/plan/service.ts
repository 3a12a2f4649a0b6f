import type { Day } from '../measure/day.js';
import type { Job, LineState } from './job.js';
import type { Model } from './model.js';
import type { Placed } from './schedule-job.js';
import { movedFrom } from './as-shown.js';
import { unevenness } from './evenness.js';
import { type Costs, inOrder, type Service } from './terms.js';
import { type Planned, pouredOf } from './to-proposal.js';
import { moreWashing, washedInAll } from './washed.js';
import { wasteOf } from './waste.js';

/** What a line waits for besides the batches of this plan, and which of these it waits for. */
export interface LineWait {
  line: LineState;
  /** The day all else is there, and the customer takes it. */
  ready: Day;
  jobs: readonly Job[];
}

/** Of each line that nothing keeps from being covered what it waits for; null of those that are not. */
export function waitsOf(model: Model, planned: Planned): (LineWait | null)[] {
  return planned.netted.lines.map((line) => waitOf(model, line, planned));
}

function waitOf(model: Model, line: LineState, { netted, shelf }: Planned): LineWait | null {
  const fromShelf = shelf.lines.get(line);
  if (line.missing + line.leftOut + (fromShelf?.missing ?? 0) > 0) return null;
  let ready = Math.max(model.today, line.notBefore);
  for (const supply of line.fromMaking) ready = Math.max(ready, supply.from);
  for (const { from, key } of fromShelf?.taken ?? []) {
    const supply = netted.pool.get(line.item.code)?.find((one) => one.kind === from && one.key === key);
    ready = Math.max(ready, supply?.from ?? ready);
  }
  const jobs = line.fromJobs.map(({ job }) => job);
  return jobs.some((job) => shelf.short.has(job)) ? null : { line, ready, jobs };
}

/** What follows from where batches stand on which days, whatever lines wait for. */
export type PlaceCosts = Pick<Costs, 'washing' | 'movedSoon' | 'moved' | 'uneven'>;
export type LineCosts = Omit<Costs, 'expires' | keyof PlaceCosts>;

const NOTHING: LineCosts = { urgent: 0, uncovered: 0, late: 0, days: 0, weightedDays: 0 };

/** What lines cost that are late or not covered, beside what others do. */
export class ServiceSum {
  readonly sum: LineCosts;

  constructor(others: LineCosts = NOTHING) {
    this.sum = { ...others };
  }

  /** `ready`: the day the line can go; null where it is not covered. */
  add({ row, shipBy }: LineState, ready: Day | null): void {
    if (ready !== null && ready <= shipBy) return;
    const { sum } = this;
    const weight = row.weight ?? 1;
    if (row.urgent) sum.urgent++;
    sum.late += weight;
    if (ready === null) sum.uncovered += weight;
    else {
      sum.days += ready - shipBy;
      sum.weightedDays += weight * (ready - shipBy);
    }
  }
}

/** The day a line that waits for batches can go; null where one of them has no day. */
export function readyOf({ ready, jobs }: LineWait, placedOf: (job: Job) => Placed): Day | null {
  let last: Day = ready;
  for (const job of jobs) {
    const at = placedOf(job).ready;
    if (at === null) return null;
    last = Math.max(last, at);
  }
  return last;
}

export function serviceOf(model: Model, planned: Planned): Service {
  const service = new ServiceSum();
  for (const [i, wait] of waitsOf(model, planned).entries())
    service.add(planned.netted.lines[i]!, wait && readyOf(wait, (job) => planned.placed.get(job)!));
  const places = placeCostsBy(model)(planned.placed);
  return inOrder({ ...service.sum, expires: wasteOf(model, planned), ...places }, model.terms);
}

const NO_PLACE_COSTS: PlaceCosts = { washing: 0, movedSoon: 0, moved: 0, uneven: 0 };

/** Whether it counts where batches stand: not where nothing is said of it, and nothing was shown. */
const countsPlaces = ({ washing, shown, terms }: Model): boolean =>
  washing !== null || shown.at.size > 0 || terms.includes('uneven');

/** What it costs where batches stand. */
export function placeCostsBy(model: Model): (placed: Iterable<readonly [Job, Placed]>) => PlaceCosts {
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (!countsPlaces(model)) return () => NO_PLACE_COSTS;
  return (placed) => {
    const washed = washedInAll(model, pouredOf(placed));
    const uneven = model.terms.includes('uneven') ? unevenness(model, placed, washed) : 0;
    return { washing: moreWashing(washed), ...movedFrom(model, placed), uneven };
  };
}
