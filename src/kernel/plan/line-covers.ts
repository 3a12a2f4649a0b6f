import { type Day, isoOf } from '../measure/day.js';
import type { Job, LineState } from './job.js';
import { missingOf, partsOfLine, readyOf } from './line-waits.js';
import type { Model } from './model.js';
import type { Planned } from './planned.js';
import type { PoolSupply } from './pool.js';
import type { LineCover, LinePartSent, Taken } from './proposal.js';
import type { Placed } from './schedule-job.js';

/** What covers a line, whatever it goes with. */
interface OwnCover {
  line: LineState;
  taken: Taken[];
  missing: number;
  /** The day all is there that is not missing. */
  ready: Day;
  because: LineCover['because'];
}

/** What covers each line, when it can go, and why not sooner. */
export function toCovers(model: Model, planned: Planned): LineCover[] {
  const own = new Map(planned.netted.lines.map((line) => [line, ownCover(model, line, planned)]));
  return [...own.values()].map((cover) => {
    const { row, together } = cover.line;
    if (together.length > 0)
      return sentComplete(
        cover,
        together.map((line) => own.get(line)!),
      );
    const said = coverOf(cover, cover.missing > 0 ? null : readyOn(cover));
    return row.sends === 'parts' ? { ...said, parts: partsSent(model, cover.line, planned) } : said;
  });
}

/** The day it can go by itself; also where something of it is missing. */
const readyOn = ({ ready, line }: OwnCover): Day => Math.max(ready, line.notBefore);

function coverOf({ line: { row, shipBy }, taken, missing, because }: OwnCover, on: Day | null): LineCover {
  return {
    key: row.key,
    item: row.item,
    quantity: row.quantity,
    shipBy: row.shipBy,
    notBefore: row.notBefore,
    taken,
    missing,
    readyOn: on === null ? null : isoOf(on),
    lateDays: on === null ? 0 : Math.max(0, on - shipBy),
    because: on !== null && on <= shipBy ? null : because,
  };
}

/** It goes on the day on which the last of its order can, and takes nothing where not all of that is covered. */
function sentComplete(own: OwnCover, together: readonly OwnCover[]): LineCover {
  const lacking = together.find(({ missing }) => missing > 0);
  const last = lacking ?? together.reduce((one, other) => (other.ready > one.ready ? other : one));
  const keepsBack = last.ready > own.ready && last.ready > own.line.notBefore;
  const isWaiting = lacking ? own.missing === 0 : keepsBack;
  const because = isWaiting ? 'order' : (own.because ?? 'order');
  const on = lacking ? null : Math.max(...together.map(readyOn));
  const nothing = { taken: [], missing: own.line.row.quantity };
  const said = coverOf({ ...own, because, ...(lacking && nothing) }, on);
  if (!isWaiting) return said;
  const { key, item } = last.line.row;
  return { ...said, waitsFor: { line: key, item, readyOn: lacking ? null : isoOf(readyOn(last)) } };
}

/** What goes on which day, of what is covered. */
function partsSent(model: Model, line: LineState, planned: Planned): LinePartSent[] {
  const onDay = new Map<Day, number>();
  for (const { quantity, wait } of partsOfLine(model, line, planned)) {
    const day = wait && readyOf(wait, (job) => planned.placed.get(job)!);
    if (day !== null) onDay.set(day, (onDay.get(day) ?? 0) + quantity);
  }
  return [...onDay].sort(([a], [b]) => a - b).map(([day, quantity]) => ({ on: isoOf(day), quantity }));
}

function ownCover(model: Model, line: LineState, planned: Planned): OwnCover {
  const { netted, placed, shelf } = planned;
  const fromShelf = shelf.lines.get(line)?.taken ?? [];
  const taken: Taken[] = [...line.taken, ...fromShelf];
  let missing = missingOf(line, planned);
  let because: LineCover['because'] = missing === 0 ? null : whyMissing(line);
  let ready = model.today;
  const wait = (supply: PoolSupply): void => {
    if (supply.from <= ready) return;
    ready = supply.from;
    if (ready > line.shipBy) because ??= supply.kind === 'making' ? 'source' : 'delivery';
  };
  if (line.shipBy < model.today) because ??= 'overdue';
  for (const supply of line.fromMaking) wait(supply);
  for (const supply of netted.pool.get(line.item.code) ?? [])
    if (fromShelf.some((t) => t.from === supply.kind && t.key === supply.key)) wait(supply);
  for (const { job, quantity } of line.fromJobs) {
    const at = placed.get(job)!;
    if (shelf.short.has(job) || at.ready === null) {
      missing += quantity;
      // what a full plan leaves out of a line is said before what else it waits for
      if (line.leftOut === 0) because = at.ready === null ? (at.heldUpBy ?? 'no-vessel') : 'short';
      continue;
    }
    taken.push({ from: 'batch', key: job.key, quantity });
    if (at.ready > ready) ready = at.ready;
    if (at.ready > line.shipBy) because ??= reasonFor(model, line, job, placed);
  }
  return { line, taken, missing, ready, because };
}

function whyMissing({ item, isNeverFresh, leftOut }: LineState): LineCover['because'] {
  if (leftOut > 0) return 'plan-full';
  if (isNeverFresh) return 'never-fresh';
  return item.formula || item.row.kind === 'material' ? 'short' : 'no-formula';
}

/** Why a line is late: no bench or vessel could have made it, or else what held its batch or that batch's source up. */
function reasonFor(model: Model, line: LineState, job: Job, placed: Map<Job, Placed>): LineCover['because'] {
  if (line.shipBy < model.today) return 'overdue';
  if (model.start + pathDays(job) > line.shipBy) return 'rest';
  const reason = placed.get(job)!.heldUpBy;
  if (reason !== 'source') return reason;
  const sourceReady = (source: Job): number => placed.get(source)!.ready ?? Number.POSITIVE_INFINITY;
  const late = job.sources
    .map((source) => source.job)
    .sort((a, b) => sourceReady(b) - sourceReady(a))
    .find((source) => placed.get(source)!.heldUpBy !== null);
  return late ? reasonFor(model, line, late, placed) : 'source';
}

/** Rest days along the longest path that this batch really waits for. */
function pathDays(job: Job, known = new Map<Job, number>()): number {
  let days = known.get(job);
  if (days === undefined) {
    days = job.formula.restDays + job.sources.reduce((most, { job: one }) => Math.max(most, pathDays(one, known)), 0);
    known.set(job, days);
  }
  return days;
}
