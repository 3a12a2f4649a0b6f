import type { Day } from '../measure/day.js';
import { byDue, daysUntilTaken, dueDay, type Job, type JobInput } from './job.js';
import type { Model } from './model.js';
import type { Netted } from './netting.js';
import { type PoolSupply, Remaining } from './pool.js';
import type { Comes } from './schedule-job.js';
import { leftOver, type ShelfPlan } from './shelf.js';

/** The first day a batch has all it takes from the shelf and from earlier batches, and which of them comes last. */
export interface Arrival extends Comes {
  /** Last day for the batch on which what it takes of earlier batches is good. */
  goodUntil: Day;
}

/**
 * When what each batch takes is there, taking it in the order the batches are due. What no delivery will bring does not
 * hold a batch up: it is a shortfall.
 */
export function arrivals(model: Model, netted: Netted): Map<Job, Arrival> {
  const shelf = inOrderOfArrival(netted.pool);
  return arrivalsBy(model, [...netted.jobs].sort(byDue), (job, input) => {
    return arrivalOf(shelf.of(input.item.code), input.fromShelf, dueDay(model, job));
  });
}

/** What of it can be taken from, each by when it is there. */
const inOrderOfArrival = (pool: ReadonlyMap<string, readonly PoolSupply[]>): Remaining =>
  new Remaining(
    (code) => pool.get(code) ?? [],
    (supplies) => supplies.sort(byArrival),
  );

/**
 * As `arrivals`, by what a plan has given to each batch; what lacks something waits for what nobody else has taken.
 * Those that even so lack nothing are taken out of `lacking`.
 */
export function arrivalsAsGiven(
  model: Model,
  { netted, shelf }: { netted: Netted; shelf: ShelfPlan },
  lacking: Set<Job>,
): Map<Job, Arrival> {
  const left = leftOver(netted, shelf, byArrival);
  const inOrder = [...netted.jobs].sort(byDue);
  for (const job of inOrder) if (lacking.has(job) && isCovered(job, left)) lacking.delete(job);
  return arrivalsBy(model, inOrder, (job, input) => {
    if (shelf.short.has(job)) return arrivalOf(left.of(input.item.code), input.fromShelf, dueDay(model, job));
    const taken = shelf.inputs.get(input)?.taken ?? [];
    const there = taken.map(({ from, key }) => {
      const supplies = netted.pool.get(input.item.code)!;
      return supplies.find((supply) => supply.kind === from && supply.key === key)!.from;
    });
    return Math.max(model.start, ...there);
  });
}

/** Who takes first of what is there before a delivery comes. */
export class Takes {
  /** Batches, by their place, that take of what is not there for all of them before a delivery comes. */
  readonly jobs: readonly number[];
  /** Of that, what there is and what comes. */
  private readonly scarce: ReadonlyMap<string, readonly PoolSupply[]>;
  /** When all else is there. */
  private readonly others = new Map<JobInput, Day>();

  constructor(
    private readonly model: Model,
    private readonly netted: Netted,
  ) {
    const wanted = new Map<string, number>();
    for (const { inputs } of netted.jobs)
      for (const { item, fromShelf } of inputs) wanted.set(item.code, (wanted.get(item.code) ?? 0) + fromShelf);
    this.scarce = new Map([...netted.pool].filter(([code, all]) => comesLater(model, all, wanted.get(code) ?? 0)));
    const isScarce = ({ item, fromShelf }: JobInput): boolean => fromShelf > 0 && this.scarce.has(item.code);
    this.jobs = netted.jobs.flatMap(({ inputs }, place) => (inputs.some(isScarce) ? [place] : []));
    if (this.jobs.length === 0) return;
    const shelf = inOrderOfArrival(netted.pool);
    for (const job of [...netted.jobs].sort(byDue))
      for (const input of job.inputs)
        if (!isScarce(input))
          this.others.set(input, arrivalOf(shelf.of(input.item.code), input.fromShelf, dueDay(model, job)));
  }

  /** When what each of these batches takes is there, taking it in the order in which they are named. */
  inOrder(places: readonly number[]): Map<number, Comes> {
    const left = inOrderOfArrival(this.scarce);
    const jobs = places.map((place) => this.netted.jobs[place]!);
    const arrived = arrivalsBy(this.model, jobs, (job, input) => {
      return this.others.get(input) ?? arrivalOf(left.of(input.item.code), input.fromShelf, dueDay(this.model, job));
    });
    return new Map(places.map((place, i) => [place, arrived.get(jobs[i]!)!]));
  }
}

/** Whether so much of it is there only once a delivery has come. */
function comesLater({ start }: Model, supplies: readonly PoolSupply[], wanted: number): boolean {
  const there = supplies.filter(({ kind, from }) => kind !== 'making' && from <= start);
  const isComing = supplies.some(({ kind, from }) => kind !== 'making' && from > start);
  const quantity = there.reduce((sum, supply) => sum + supply.quantity, 0);
  return isComing && quantity > 0 && quantity < wanted;
}

/** Whether what is left would do for this batch, whenever it comes. */
function isCovered(job: Job, left: Remaining): boolean {
  return job.inputs.every((input) => {
    const there = left.of(input.item.code).reduce((sum, { quantity }) => sum + quantity, 0);
    return input.missing === 0 && (!input.item.row.stocked || there >= input.fromShelf);
  });
}

const byArrival = (a: PoolSupply, b: PoolSupply): number => a.from - b.from || (a.until < b.until ? -1 : 1);

function arrivalsBy(
  model: Model,
  jobs: readonly Job[],
  fromShelfOn: (job: Job, input: JobInput) => Day,
): Map<Job, Arrival> {
  const arrived = new Map<Job, Arrival>();
  for (const job of jobs) {
    const arrival: Arrival = { earliest: model.start, waitsFor: 'delivery', goodUntil: Number.POSITIVE_INFINITY };
    const wait = (day: Day, waitsFor: Arrival['waitsFor']): void => {
      if (day > arrival.earliest) Object.assign(arrival, { earliest: day, waitsFor });
    };
    for (const input of job.inputs) {
      if (!input.item.row.stocked) continue;
      // what is packed with it may come while it rests
      const sooner = daysUntilTaken(job, input);
      wait(fromShelfOn(job, input) - sooner, 'delivery');
      for (const { supply } of input.fromMaking) {
        wait(supply.from - sooner, 'source');
        arrival.goodUntil = Math.min(arrival.goodUntil, supply.until - sooner);
      }
    }
    arrived.set(job, arrival);
  }
  return arrived;
}

/** Takes `quantity` from supplies in the order they come; answers the day the last of it is there, or 0. */
function arrivalOf(supplies: PoolSupply[], quantity: number, goodUntil: Day): Day {
  let last = 0;
  let open = quantity;
  for (const supply of supplies) {
    if (open === 0) break;
    if (supply.quantity === 0 || supply.kind === 'making' || supply.until < Math.max(goodUntil, supply.from)) continue;
    const taken = Math.min(open, supply.quantity);
    supply.quantity -= taken;
    open -= taken;
    last = Math.max(last, supply.from);
  }
  return open > 0 ? 0 : last;
}
