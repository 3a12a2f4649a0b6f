import type { Day } from '../measure/day.js';
import type { Job, LineState } from './job.js';
import type { Model } from './model.js';
import type { Placed } from './schedule-job.js';
import { type Planned, pouredOf } from './to-proposal.js';
import { washingMinutes } from './washed.js';
import { wasteOf } from './waste.js';

/**
 * How well orders are served, what counts most first: urgent lines that are late or not covered; then the weight of lines that
 * are not covered; of those that are late or not covered; then days late in all; then what expires, in 1/10 000 of the
 * currency unit; then minutes of washing. Less is better, term by term.
 */
export type Service = readonly number[];

/** Which of the terms is the weight of lines that are late or not covered. */
export const LATE = 2;

/** Below none where `one` is better than `other`, 0 where they are the same. */
export function compareService(one: Service, other: Service): number {
  for (let i = 0; i < one.length; i++) if (one[i] !== other[i]) return one[i]! - other[i]!;
  return 0;
}

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

/** What lines cost that are late or not covered, beside what others do. */
export class ServiceSum {
  private urgent: number;
  private uncovered: number;
  private late: number;
  private days: number;

  constructor([urgent = 0, uncovered = 0, late = 0, days = 0]: Service = []) {
    [this.urgent, this.uncovered, this.late, this.days] = [urgent, uncovered, late, days];
  }

  /** `ready`: the day the line can go; null where it is not covered. */
  add({ row, shipBy }: LineState, ready: Day | null): void {
    if (ready !== null && ready <= shipBy) return;
    const weight = row.weight ?? 1;
    if (row.urgent) this.urgent++;
    this.late += weight;
    if (ready === null) this.uncovered += weight;
    else this.days += ready - shipBy;
  }

  get sum(): Service {
    return [this.urgent, this.uncovered, this.late, this.days];
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
  return [...service.sum, wasteOf(model, planned), washingMinutes(model, pouredOf(planned.placed))];
}
