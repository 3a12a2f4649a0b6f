import { type Day, isoOf } from '../measure/day.js';
import type { Model } from './model.js';
import type { Job, LineState } from './job.js';
import { choosePacks } from '../buy/packs.js';
import type { Shortfall } from './proposal.js';
import { type ShelfPlan, wantedOn, type When } from './shelf.js';
import { byText } from '../measure/text-order.js';

interface Missing {
  quantity: number;
  needOn: Day;
  lines: Set<LineState>;
  jobs: Set<Job>;
  /** Batches whose lines are among those already. */
  seen: Set<Job>;
}

/**
 * What nothing covers, by bought item: how much, from which day, whom it hurts, the cheapest packs that cover it and the
 * last day to order them. Sorted by the day they are needed.
 */
export function shortfalls(
  model: Model,
  jobs: readonly Job[],
  lines: readonly LineState[],
  shelf: ShelfPlan,
  whenOf: (job: Job) => When | null,
): Shortfall[] {
  const byItem = new Map<string, Missing>();
  const add = (item: string, quantity: number, needOn: Day): Missing => {
    const missing = byItem.get(item) ?? { quantity: 0, needOn, lines: new Set(), jobs: new Set(), seen: new Set() };
    missing.quantity += quantity;
    missing.needOn = Math.min(missing.needOn, needOn);
    byItem.set(item, missing);
    return missing;
  };
  for (const job of jobs) {
    const when = whenOf(job);
    const isShort = shelf.short.has(job);
    for (const input of job.inputs) {
      const quantity = (shelf.inputs.get(input)?.missing ?? 0) + input.missing;
      if (!when || quantity === 0) continue;
      const missing = add(input.item.code, quantity, wantedOn(model, job, input, when, isShort));
      missing.jobs.add(job);
      if (isShort) for (const line of linesOf(job, missing.seen)) addWaiting(missing, line);
    }
  }
  for (const line of lines) {
    const quantity = (shelf.lines.get(line)?.missing ?? 0) + line.missing;
    if (quantity > 0) addWaiting(add(line.item.code, quantity, line.goes), line);
  }
  return [...byItem]
    .sort(([a, x], [b, y]) => x.needOn - y.needOn || byText(a, b))
    .map(([item, { quantity, needOn, lines: hurt, jobs: waiting }]) =>
      priced(model, item, {
        quantity,
        needOn,
        lines: [...hurt].map((line) => line.row.key),
        batches: [...waiting].map((job) => job.key),
      }),
    );
}

/** A line, and all that go with it. */
function addWaiting({ lines }: Missing, line: LineState): void {
  lines.add(line);
  for (const other of line.together) lines.add(other);
}

/** Every order line that waits for a batch, through whatever is made from it; what is made from those `seen` left out. */
export function linesOf(job: Job, seen = new Set<Job>()): LineState[] {
  const lines: LineState[] = [];
  const visit = (one: Job): void => {
    if (seen.has(one)) return;
    seen.add(one);
    for (const peg of one.pegs) {
      if (peg.line) lines.push(peg.line);
      else if (peg.job) visit(peg.job);
    }
  };
  visit(job);
  return lines;
}

/** With the packs that cover it, and the last day to order them. */
export function priced(
  model: Model,
  item: string,
  missing: { quantity: number; needOn: Day; lines: string[]; batches: string[] },
): Shortfall {
  const offered = model.snapshot.packs.filter((pack) => pack.item === item).sort((a, b) => byText(a.key, b.key));
  const choice = offered.length > 0 ? choosePacks(missing.quantity, offered) : null;
  const leadDays = Math.max(
    0,
    ...(choice?.packs ?? []).map(({ key }) => offered.find((pack) => pack.key === key)!.leadDays),
  );
  const orderBy = choice ? missing.needOn - model.snapshot.workshop.receivingDays - leadDays : null;
  return {
    item,
    quantity: missing.quantity,
    needOn: isoOf(missing.needOn),
    hurts: {
      lines: missing.lines.sort(byText),
      batches: missing.batches.sort(byText),
    },
    packs: choice?.packs ?? [],
    packsTotal: choice?.total ?? 0,
    costE4: choice?.costE4 ?? 0,
    gapE4: choice?.gapE4 ?? 0,
    orderBy: orderBy === null ? null : isoOf(orderBy),
    tooLate: orderBy === null || orderBy < model.today,
  };
}
