import type { Day } from '../measure/day.js';
import type { LineState } from './job.js';
import type { ScheduleJob } from './schedule-job.js';
import type { LineCosts } from './service.js';
import type { Service, Term } from './terms.js';
import type { ScheduleVessel } from './vessel-days.js';

/** What pours wait for, and what waits for them, by places in the list of batches. */
export interface Waiting {
  jobs: readonly ScheduleJob[];
  vessels: readonly ScheduleVessel[];
  start: Day;
  /** The day a line, or its part, is ready without these batches, and the batches it waits for. */
  lines: readonly { line: LineState; share?: number; ready: Day; jobs: readonly number[] }[];
  /** What all other lines cost. */
  others: LineCosts;
  terms: readonly Term[];
  /** No order costs less by them; undefined where that is not known. */
  least?: Service;
}

/** A pour by its place, and how many days after it begins something can be. */
export interface Lag {
  pour: number;
  days: number;
}

export interface Pour {
  job: number;
  earliest: Day;
  /** Days it keeps its vessel. */
  days: number;
  /** Vessels that can hold it, by their places. */
  vessels: readonly number[];
  /** What it is made of. */
  after: readonly Lag[];
}

export interface WaitingLine {
  line: LineState;
  /** What it counts as, where that is a part of a line. */
  share?: number;
  ready: Day;
  after: readonly Lag[];
}

/** A day that is no sooner than `from`, nor than so many days after pours begin. */
interface Chain {
  from: Day;
  after: readonly Lag[];
}

/** Pours for orders, in the order given, and the lines, through all that is made of one and another. */
export function chainsOf(waiting: Waiting, order: readonly number[]): { pours: Pour[]; lines: WaitingLine[] } {
  const { jobs, vessels, start } = waiting;
  const chosen = order.filter((job) => jobs[job]!.vesselKind !== null && jobs[job]!.tier === 0);
  const placeOf = new Map(chosen.map((job, place) => [job, place]));
  const known = new Map<number, Chain>();
  const beginOf = (job: number): Chain => {
    const { earliest, freshFrom, sources } = jobs[job]!;
    const chains = sources.map((source) => readyOf(source.job));
    return {
      from: Math.max(start, earliest, freshFrom, ...chains.map(({ from }) => from)),
      after: chains.flatMap(({ after }) => after),
    };
  };
  const readyOf = (job: number): Chain => {
    const found = known.get(job);
    // Stryker disable next-line ConditionalExpression: it is only quicker
    if (found) return found;
    const { restDays } = jobs[job]!;
    const { from, after } = beginOf(job);
    const pour = placeOf.get(job);
    const lags = pour === undefined ? after : [{ pour, days: 0 }];
    const chain = { from: from + restDays, after: lags.map((lag) => ({ ...lag, days: lag.days + restDays })) };
    known.set(job, chain);
    return chain;
  };
  return {
    pours: chosen.map((job) => {
      const { restDays, vesselKind, putInMg } = jobs[job]!;
      const { from, after } = beginOf(job);
      const fitting = [...vessels.keys()].filter(
        (place) => vessels[place]!.kind === vesselKind && vessels[place]!.capacityMg >= putInMg,
      );
      return { job, earliest: from, days: restDays + 1, vessels: fitting, after };
    }),
    lines: waiting.lines.map(({ line, share, ready, jobs: of }) => {
      const chains = of.map(readyOf);
      const from = Math.max(ready, ...chains.map((chain) => chain.from));
      return { line, share, ready: from, after: chains.flatMap(({ after }) => after) };
    }),
  };
}
