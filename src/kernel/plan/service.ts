import type { Day } from '../measure/day.js';
import type { Job, LineState } from './job.js';
import { partsOf, readyOf } from './line-waits.js';
import type { Model } from './model.js';
import type { Planned } from './planned.js';
import type { Placed } from './schedule-job.js';
import { movedFrom } from './as-shown.js';
import { unevenness } from './evenness.js';
import { type Costs, inOrder, type Service } from './terms.js';
import { pouredOf } from './to-proposal.js';
import { moreWashing, washedInAll } from './washed.js';
import { wasteOf } from './waste.js';

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

  /** `ready`: the day it can go; null where it is not covered. `share`: what it counts as, where that is a part of a line. */
  add({ row, shipBy }: LineState, ready: Day | null, share = 1): void {
    if (ready !== null && ready <= shipBy) return;
    const { sum } = this;
    const weight = (row.weight ?? 1) * share;
    if (row.urgent) sum.urgent += share;
    sum.late += weight;
    if (ready === null) sum.uncovered += weight;
    else {
      sum.days += share * (ready - shipBy);
      sum.weightedDays += weight * (ready - shipBy);
    }
  }
}

export function serviceOf(model: Model, planned: Planned): Service {
  const service = new ServiceSum();
  for (const { line, share, wait } of partsOf(model, planned))
    service.add(line, wait && readyOf(wait, (job) => planned.placed.get(job)!), share);
  const places = placeCosts(model, () => planned.placed);
  return inOrder({ ...service.sum, expires: wasteOf(model, planned), ...places }, model.terms);
}

const NO_PLACE_COSTS: PlaceCosts = { washing: 0, movedSoon: 0, moved: 0, uneven: 0 };

/** Whether it counts where batches stand: not where nothing is said of it, and nothing was shown. */
const countsPlaces = ({ washing, shown, terms }: Model): boolean =>
  washing !== null || shown.at.size > 0 || terms.includes('uneven');

/** What it costs where batches stand; they are listed only where that counts. */
export function placeCosts(model: Model, list: () => Iterable<readonly [Job, Placed]>): PlaceCosts {
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (!countsPlaces(model)) return NO_PLACE_COSTS;
  const placed = list();
  const washed = washedInAll(model, pouredOf(placed));
  const uneven = model.terms.includes('uneven') ? unevenness(model, placed, washed) : 0;
  return { washing: moreWashing(washed), ...movedFrom(model, placed), uneven };
}
