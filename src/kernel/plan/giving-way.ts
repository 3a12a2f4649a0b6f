import { dayOf, isoOf } from '../measure/day.js';
import { byText } from '../measure/text-order.js';
import { buildModel, minutesTaken } from './model.js';
import type { LineCover, Proposal } from './proposal.js';
import type { Snapshot, SnapshotItem, SnapshotVessel } from './snapshot.js';

/** What stands in the way of an order line that is late or not all covered. Days are ISO 8601 text. */
export interface GivingWay {
  /** As it is planned among all others. */
  now: Standing;
  /** Before all others: how it stands then, and who would be served worse than now. */
  first: Standing & { worse: ServedWorse[] };
  /** With no other order and no stock to fill. */
  alone: Standing;
  /** Each alone, with the line before all others, makes it in time and serves nobody worse than now. */
  help: Help[];
}

export type Standing = Pick<LineCover, 'readyOn' | 'lateDays' | 'missing' | 'because'>;

export interface ServedWorse {
  key: string;
  item: string;
  shipBy: string;
  now: Standing;
  then: Standing;
}

export type Help =
  /** So many more minutes at the bench on these days. */
  | { kind: 'hours'; days: { day: string; minutes: number }[] }
  /** One more vessel as large as the largest of its kind. */
  | { kind: 'vessel'; vesselKind: string; capacityMg: number }
  /** So much more on the shelf today. */
  | { kind: 'material'; items: { item: string; quantity: number }[] }
  /** Deliveries here, and fit to be used, today. */
  | { kind: 'delivery'; deliveries: { key: string; day: string }[] };

/** Tried in turn, the least that helps is told. */
const MORE_MINUTES = [30, 60, 120, 240, 480];

/** A name that no vessel, lot or delivery of a workshop can have: it begins with a blank. */
const ONE_MORE = ' one more';

type PlanOf = (snapshot: Snapshot) => Proposal | Promise<Proposal>;

/**
 * Plans the same workshop otherwise, a dozen times at most, and compares. `planOf` makes a plan; answers undefined where
 * no line is called `key`, or it is in time and covered.
 */
export async function whatGivesWay(snapshot: Snapshot, key: string, planOf: PlanOf): Promise<GivingWay | undefined> {
  const planned = await planOf(snapshot);
  const now = standingOf(planned, key);
  if (now === undefined || isInTime(now)) return undefined;
  const before = servedFirst(snapshot, key);
  const ahead = await planOf(before);
  const aloneSnapshot = onItsOwn(snapshot, key);
  const aloneProposal = await planOf(aloneSnapshot);
  const ask: Asked = { key, planned, before, planOf };
  const tried = [
    await moreHours(ask),
    await oneMoreVessel(ask),
    await materialHere(ask, aloneProposal),
    await deliveriesHere(ask, aloneProposal),
  ];
  return {
    now,
    first: { ...standingOf(ahead, key)!, worse: servedWorse(planned, ahead, key) },
    alone: standingOf(aloneProposal, key)!,
    help: tried.filter((one) => one !== undefined),
  };
}

interface Asked {
  key: string;
  /** As all is now. */
  planned: Proposal;
  /** The workshop with the line before all others. */
  before: Snapshot;
  planOf: PlanOf;
}

const isInTime = ({ lateDays, missing }: Standing): boolean => lateDays === 0 && missing === 0;

function standingOf({ lines }: Proposal, key: string): Standing | undefined {
  const line = lines.find((one) => one.key === key);
  return line && standing(line);
}

const standing = ({ readyOn, lateDays, missing, because }: LineCover): Standing => ({
  readyOn,
  lateDays,
  missing,
  because,
});

/** Urgent alone: what else is so waits for it, in the order of its days. */
const servedFirst = (snapshot: Snapshot, key: string): Snapshot => ({
  ...snapshot,
  lines: snapshot.lines.map((line) => ({ ...line, urgent: line.key === key })),
});

const onItsOwn = (snapshot: Snapshot, key: string): Snapshot => ({
  ...snapshot,
  items: snapshot.items.map((item): SnapshotItem => ({ ...item, target: 0 })),
  lines: snapshot.lines.filter((line) => line.key === key),
});

function servedWorse(planned: Proposal, then: Proposal, but: string): ServedWorse[] {
  const before = new Map(planned.lines.map((line) => [line.key, line]));
  return then.lines.flatMap((line) => {
    const now = before.get(line.key)!;
    if (line.key === but || (line.missing <= now.missing && line.lateDays <= now.lateDays)) return [];
    return [{ key: line.key, item: line.item, shipBy: line.shipBy, now: standing(now), then: standing(line) }];
  });
}

/** The plan of the workshop so changed, where the line is in time in it and nobody is served worse than now. */
async function ifItHelps(ask: Asked, change: Partial<Snapshot>): Promise<Proposal | undefined> {
  const then = await ask.planOf({ ...ask.before, ...change });
  const helps = isInTime(standingOf(then, ask.key)!) && servedWorse(ask.planned, then, ask.key).length === 0;
  return helps ? then : undefined;
}

/** On days that are open anyway. More is not tried where the most does not help. */
async function moreHours(ask: Asked): Promise<Help | undefined> {
  if (!(await withMinutes(ask, MORE_MINUTES.at(-1)!))) return undefined;
  for (const more of MORE_MINUTES) {
    const then = await withMinutes(ask, more);
    if (then) return { kind: 'hours', days: overHours(ask.before, then) };
  }
  return undefined;
}

function withMinutes(ask: Asked, more: number): Promise<Proposal | undefined> {
  const { workshop } = ask.before;
  const benchMinutes = workshop.benchMinutes.map((minutes) => (minutes === 0 ? 0 : minutes + more));
  return ifItHelps(ask, { workshop: { ...workshop, benchMinutes } });
}

/** The days on which a plan works longer than the bench is open. */
function overHours(snapshot: Snapshot, { batches }: Proposal): { day: string; minutes: number }[] {
  const model = buildModel(snapshot);
  const used = minutesTaken(model);
  for (const { day, minutes } of batches) if (day !== null) used.set(dayOf(day), (used.get(dayOf(day)) ?? 0) + minutes);
  return [...used]
    .map(([day, minutes]) => ({ day: isoOf(day), minutes: minutes - model.openMinutes(day) }))
    .filter(({ minutes }) => minutes > 0)
    .toSorted((a, b) => byText(a.day, b.day));
}

async function oneMoreVessel(ask: Asked): Promise<Help | undefined> {
  for (const vesselKind of vesselKindsFor(ask)) {
    const capacityMg = Math.max(...ask.before.vessels.filter(isOf(vesselKind)).map((vessel) => vessel.capacityMg));
    const vessels = [...ask.before.vessels, { code: ONE_MORE, kind: vesselKind, capacityMg }];
    if (await ifItHelps(ask, { vessels })) return { kind: 'vessel', vesselKind, capacityMg };
  }
  return undefined;
}

const isOf =
  (kind: string) =>
  (vessel: SnapshotVessel): boolean =>
    vessel.kind === kind;

/** Of which kinds there are vessels that the line's item, or anything it is made of, is made in. */
function vesselKindsFor({ before: { formulas, lines, vessels }, key }: Asked): string[] {
  const formulaOf = new Map(formulas.map((formula) => [formula.item, formula]));
  const made = new Set([lines.find((line) => line.key === key)!.item]);
  for (const item of made) for (const { item: part } of formulaOf.get(item)?.lines ?? []) made.add(part);
  const kinds = new Set([...made].map((item) => formulaOf.get(item)?.vesselKind ?? ''));
  return [...kinds].filter((kind) => vessels.some(isOf(kind))).toSorted();
}

/** What the line lacks where nothing else is wanted is lacking whoever is served. */
async function materialHere(ask: Asked, alone: Proposal): Promise<Help | undefined> {
  const items = alone.shortfalls.map(({ item, quantity }) => ({ item, quantity }));
  if (items.length === 0) return undefined;
  const more = items.map(({ item, quantity }, n) => ({
    code: `${ONE_MORE} ${n}`,
    item,
    free: quantity,
    onHand: quantity,
    valueE4: 0,
    expiresOn: null,
  }));
  const helps = await ifItHelps(ask, { lots: [...ask.before.lots, ...more] });
  return helps ? { kind: 'material', items } : undefined;
}

async function deliveriesHere(ask: Asked, alone: Proposal): Promise<Help | undefined> {
  const taken = new Set(
    [...alone.batches.flatMap(({ inputs }) => inputs), ...alone.lines].flatMap((one) =>
      one.taken.filter(({ from }) => from === 'delivery').map(({ key }) => key),
    ),
  );
  const awaited = ask.before.deliveries.filter(({ key }) => taken.has(key));
  if (awaited.length === 0) return undefined;
  const here = awaited.map(({ key, item, free, expiresOn }) => ({
    code: `${ONE_MORE} ${key}`,
    item,
    free,
    onHand: free,
    valueE4: 0,
    expiresOn,
  }));
  const change = {
    lots: [...ask.before.lots, ...here],
    deliveries: ask.before.deliveries.filter((one) => !awaited.includes(one)),
  };
  if (!(await ifItHelps(ask, change))) return undefined;
  return { kind: 'delivery', deliveries: awaited.map(({ key, day }) => ({ key, day })) };
}
