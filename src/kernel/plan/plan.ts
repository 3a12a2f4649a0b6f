import { type Day, dayOf } from '../measure/day.js';
import { buildModel, minutesTaken, type Model } from './model.js';
import { type Job, type LineState, net } from './netting.js';
import type { Proposal } from './proposal.js';
import { schedule } from './schedule.js';
import { arrivals, drawOnShelf } from './shelf.js';
import { linesOf } from './shortfall.js';
import type { Snapshot } from './snapshot.js';
import { type Planned, toProposal, whenOf } from './to-proposal.js';

/**
 * The whole question: from open orders, stock and formulas to batches with their day, vessel and lots, what is short, and
 * what is about to expire. Pure: the same snapshot, its rows in any order, gives the same proposal to the byte.
 * Throws RangeError when the snapshot names unknown items, its formulas go round in a circle or an amount is too large.
 */
export function plan(snapshot: Snapshot): Proposal {
  const model = buildModel(snapshot);
  let attempt = tryPlan(model, new Set());
  const refills = refillsThatHurt(attempt);
  if (refills.size > 0) {
    const without = tryPlan(model, refills);
    if (shortForOrders(without) < shortForOrders(attempt)) attempt = without;
  }
  return toProposal(model, attempt);
}

function tryPlan(model: Model, noRefill: ReadonlySet<string>): Planned {
  const netted = net(model, noRefill);
  const earliest = arrivals(model, netted);
  const index = new Map(netted.jobs.map((job, i) => [job, i]));
  const placings = schedule(
    netted.jobs.map((job) => ({
      key: job.key,
      tier: job.tier,
      minutes: job.minutes,
      restDays: job.formula.restDays,
      vesselKind: job.formula.vesselKind,
      putInMg: job.putInMg,
      earliest: earliest.get(job) ?? model.start,
      latest: job.latest,
      sources: job.sources.map(({ job: source, held }) => ({ job: index.get(source)!, held })),
      consumers: job.consumers.map(({ job: consumer, held }) => ({ job: index.get(consumer)!, held })),
    })),
    {
      start: model.start,
      openMinutes: model.openMinutes,
      usedMinutes: minutesTaken(model),
      vessels: vesselsWithStays(model),
    },
  );
  const placed = new Map(netted.jobs.map((job, i) => [job, placings[i]!]));
  const shelf = drawOnShelf(model, netted, (job) => whenOf(placed, job));
  return { netted, placed, shelf };
}

function vesselsWithStays(
  model: Model,
): { code: string; kind: string; capacityMg: number; busy: { from: Day; to: Day }[] }[] {
  return model.snapshot.vessels.map((vessel) => ({
    ...vessel,
    busy: model.snapshot.making
      .filter((row) => row.vessel === vessel.code)
      // what should have been emptied by now and is not closed still stands in its vessel today
      .map((row) => ({ from: dayOf(row.day), to: Math.max(dayOf(row.emptiedOn), model.today) })),
  }));
}

/** Items whose refill takes material that a customer's batch then misses. */
function refillsThatHurt({ netted, shelf }: Planned): Set<string> {
  const refills = new Set<string>();
  const visit = (job: Job): void => {
    for (const peg of job.pegs) {
      if (peg.job) visit(peg.job);
      else if (!peg.line && netted.refilled.has(job.item.code)) refills.add(job.item.code);
    }
  };
  for (const job of netted.jobs) if (job.tier === 0 && shelf.short.has(job)) visit(job);
  return refills;
}

/** How much of what customers ordered is not covered, counted in lines. */
function shortForOrders({ netted, shelf }: Planned): number {
  const hurt = new Set<LineState>();
  for (const job of shelf.short) for (const line of linesOf(job)) hurt.add(line);
  for (const line of netted.lines) if (line.missing > 0 || (shelf.lines.get(line)?.missing ?? 0) > 0) hurt.add(line);
  return hurt.size;
}
