import { type Day, dayOf, isoOf } from '../measure/day.js';
import { byText } from '../measure/text-order.js';
import { type Few, isTheirs, minutesOpen } from './crew.js';
import { minutesTaken } from './minutes-taken.js';
import { buildModel } from './model.js';
import { orderSentComplete } from './order-days.js';
import type { LineCover, Proposal } from './proposal.js';
import type { Snapshot, SnapshotItem, SnapshotLot, SnapshotVessel } from './snapshot.js';

/** What stands in the way of an order line that is late or not all covered. Days are ISO 8601 text. */
export interface GivingWay {
  /** As it is planned among all others. */
  now: Standing;
  /** Before all others. */
  first: Standing;
  /** Who would then be served worse than now. */
  worse: ServedWorse[];
  /** With no other order and no stock to fill. */
  alone: Standing;
  /** Each alone. */
  help: Help[];
}

export type Standing = Pick<LineCover, 'readyOn' | 'lateDays' | 'missing' | 'because'>;

export interface ServedWorse {
  key: string;
  item: string;
  shipBy: string;
  now: Standing;
  instead: Standing;
}

/** One of four changes which, with the line before all others, serves it better than now and nobody worse. */
export interface Help {
  /** So many more minutes at the bench; in time with them, or as soon as with nothing else to make. */
  hours?: MoreMinutes[];
  /** One more vessel as large as the largest of its kind; in time with it, or as soon as with nothing else to make. */
  vessel?: { kind: string; capacityMg: number };
  /** So much more on the shelf today; all of the line is covered with it. */
  materials?: { item: string; quantity: number }[];
  /** Here, and fit to be used, today. */
  deliveries?: { key: string; day: string }[];
  /** How the line stands then. */
  standing: Standing;
}

/** `who`: where not just anybody can work longer, those who can. */
export interface MoreMinutes {
  day: string;
  minutes: number;
  who?: readonly string[];
}

/** Tried in turn where the most helps; the least that does is told. */
const MORE_MINUTES = { less: [30, 60, 120, 240], most: 480 };

/** A name that no vessel, lot or delivery of a workshop can have: it begins with a blank. */
const ONE_MORE = ' one more';

type PlanOf = (snapshot: Snapshot) => Proposal;

/**
 * Plans the same workshop otherwise, a dozen times at most, and compares. `planOf` makes a plan; answers undefined where
 * no line is called `key`, or it is in time and covered.
 */
export function whatGivesWay(snapshot: Snapshot, key: string, planOf: PlanOf): GivingWay | undefined {
  const planned = planOf(snapshot);
  const now = standingOf(planned, key);
  if (now === undefined || isInTime(now)) return undefined;
  const keys = goesWith(snapshot, key);
  const before = servedFirst(snapshot, keys);
  const ahead = planOf(before);
  const aloneProposal = planOf(onItsOwn(snapshot, keys));
  const alone = standingOf(aloneProposal, key)!;
  const ask: Asked = { key, keys, planned, now, alone, before, planOf };
  return {
    now,
    first: standingOf(ahead, key)!,
    worse: servedWorse(planned, ahead, keys),
    alone,
    help: [
      moreHours(ask),
      oneMoreVessel(ask),
      materialHere(ask, [aloneProposal, ahead]),
      deliveriesHere(ask, aloneProposal),
    ].filter((one) => one !== undefined),
  };
}

interface Asked {
  key: string;
  /** The line, and all that go with it. */
  keys: ReadonlySet<string>;
  /** As all is now. */
  planned: Proposal;
  now: Standing;
  alone: Standing;
  /** The workshop with the line before all others. */
  before: Snapshot;
  planOf: PlanOf;
}

export const isInTime = ({ lateDays, missing }: Standing): boolean => lateDays === 0 && missing === 0;

/** What is not covered is worse than what is late. */
const isWorse = (one: Standing, than: Standing): boolean =>
  one.missing > than.missing || (one.missing === than.missing && one.lateDays > than.lateDays);

/** As soon as can be, whoever is served. */
const isSoonest = ({ alone }: Asked, standing: Standing): boolean => isInTime(standing) || !isWorse(standing, alone);

function standingOf({ lines }: Proposal, key: string): Standing | undefined {
  const line = lines.find((one) => one.key === key);
  return line && asStanding(line);
}

const asStanding = ({ readyOn, lateDays, missing, because }: LineCover): Standing => ({
  readyOn,
  lateDays,
  missing,
  because,
});

/** The line, and all that go with it where its order is sent complete. */
function goesWith({ lines }: Snapshot, key: string): ReadonlySet<string> {
  const order = orderSentComplete(lines.find((line) => line.key === key)!);
  const others = order === null ? [] : lines.filter((line) => orderSentComplete(line) === order);
  return new Set([key, ...others.map((line) => line.key)]);
}

/** Urgent alone: what else is so waits for it, in the order of its days. */
const servedFirst = (snapshot: Snapshot, keys: ReadonlySet<string>): Snapshot => ({
  ...snapshot,
  lines: snapshot.lines.map((line) => ({ ...line, urgent: keys.has(line.key) })),
});

const onItsOwn = (snapshot: Snapshot, keys: ReadonlySet<string>): Snapshot => ({
  ...snapshot,
  items: snapshot.items.map((item): SnapshotItem => ({ ...item, target: 0 })),
  lines: snapshot.lines.filter((line) => keys.has(line.key)),
});

function servedWorse(planned: Proposal, then: Proposal, but: ReadonlySet<string>): ServedWorse[] {
  const before = new Map(planned.lines.map((line) => [line.key, line]));
  return then.lines.flatMap((line) => {
    const now = before.get(line.key)!;
    if (but.has(line.key) || !isWorse(line, now)) return [];
    return [{ key: line.key, item: line.item, shipBy: line.shipBy, now: asStanding(now), instead: asStanding(line) }];
  });
}

interface Helped {
  proposal: Proposal;
  standing: Standing;
}

/** The plan of the workshop so changed, where the line is served better in it than now and nobody worse. */
function ifItHelps(ask: Asked, change: Partial<Snapshot>): Helped | undefined {
  const proposal = ask.planOf({ ...ask.before, ...change });
  const standing = standingOf(proposal, ask.key)!;
  const helps = isWorse(ask.now, standing) && servedWorse(ask.planned, proposal, ask.keys).length === 0;
  return helps ? { proposal, standing } : undefined;
}

/** On days that are open anyway. */
function moreHours(ask: Asked): Help | undefined {
  const told = ({ proposal, standing }: Helped): Help => ({ hours: overHours(ask.before, proposal), standing });
  const most = withMinutes(ask, MORE_MINUTES.most);
  if (!most) return undefined;
  for (const less of MORE_MINUTES.less) {
    const then = withMinutes(ask, less);
    if (then) return told(then);
  }
  return told(most);
}

function withMinutes(ask: Asked, more: number): Helped | undefined {
  const { workshop, people } = ask.before;
  const longer = (days: readonly number[]): number[] => days.map((minutes) => (minutes === 0 ? 0 : minutes + more));
  const then = ifItHelps(ask, {
    workshop: { ...workshop, benchMinutes: longer(workshop.benchMinutes) },
    ...(people && { people: people.map((person) => ({ ...person, minutes: longer(person.minutes) })) }),
  });
  return then && isSoonest(ask, then.standing) ? then : undefined;
}

/** The days on which a plan works longer than the bench is open, or than those do who may do its work. */
function overHours(snapshot: Snapshot, proposal: Proposal): MoreMinutes[] {
  const model = buildModel(snapshot);
  const work = workOf(snapshot, proposal);
  const over = new Map<Day, MoreMinutes>();
  // the fewest who lack as much as any are those who have to work longer (deficient form of P. Hall's condition)
  const able = (model.crew?.everyFew ?? []).filter(({ names }) => names.length > 0);
  const fewestFirst = able.toSorted((a, b) => a.names.length - b.names.length);
  for (const few of [...fewestFirst, undefined])
    for (const [day, used] of minutesOfDays(minutesTaken(model, few), work, few)) {
      const minutes = used - minutesOpen(model, day, few);
      if (minutes > (over.get(day)?.minutes ?? 0))
        over.set(day, { day: isoOf(day), minutes, ...(few && { who: few.names }) });
    }
  return [...over.values()].toSorted((a, b) => byText(a.day, b.day));
}

interface Work {
  day: string | null;
  minutes: number;
  skill: string | undefined;
}

/** What a plan adds to each day, and what whoever does it must be able to do. */
function workOf({ formulas, making }: Snapshot, { batches, rewashed = [] }: Proposal): Work[] {
  const skillOf = new Map(formulas.map(({ item, skill }) => [item, skill]));
  const skillOfMaking = new Map(making.map(({ code, skill }) => [code, skill]));
  return [
    ...batches.map(({ item, day, minutes }) => ({ day, minutes, skill: skillOf.get(item) })),
    ...rewashed.map(({ batch, day, more }) => ({ day, minutes: more, skill: skillOfMaking.get(batch) })),
  ];
}

function minutesOfDays(used: Map<Day, number>, work: readonly Work[], few: Few | undefined): Map<Day, number> {
  for (const { day, minutes, skill } of work)
    if (day !== null && (!few || isTheirs(few, skill))) used.set(dayOf(day), (used.get(dayOf(day)) ?? 0) + minutes);
  return used;
}

function oneMoreVessel(ask: Asked): Help | undefined {
  for (const kind of vesselKindsFor(ask)) {
    const capacityMg = Math.max(...ask.before.vessels.filter(isOf(kind)).map((vessel) => vessel.capacityMg));
    const vessels = [...ask.before.vessels, { code: ONE_MORE, kind, capacityMg }];
    const then = ifItHelps(ask, { vessels });
    if (then && isSoonest(ask, then.standing)) return { vessel: { kind, capacityMg }, standing: then.standing };
  }
  return undefined;
}

const isOf =
  (kind: string) =>
  (vessel: SnapshotVessel): boolean =>
    vessel.kind === kind;

/** Of which kinds there are vessels that the line's item, or anything it is made of, is made in. */
function vesselKindsFor({ before: { formulas, lines, vessels }, keys }: Asked): string[] {
  const formulaOf = new Map(formulas.map((formula) => [formula.item, formula]));
  const made = new Set(lines.filter((line) => keys.has(line.key)).map((line) => line.item));
  for (const item of made) for (const { item: part } of formulaOf.get(item)?.lines ?? []) made.add(part);
  const kinds = new Set([...made].map((item) => formulaOf.get(item)?.vesselKind ?? ''));
  return [...kinds].filter((kind) => vessels.some(isOf(kind))).toSorted();
}

/** The least that is lacking for the line in one of these plans. */
function materialHere(ask: Asked, plans: readonly Proposal[]): Help | undefined {
  for (const { shortfalls } of plans) {
    const hurting = shortfalls.filter(({ hurts }) => hurts.lines.includes(ask.key));
    const items = hurting.map(({ item, quantity }) => ({ item, quantity }));
    const lots = [...ask.before.lots, ...items.map(({ item, quantity }) => oneMoreLot(item, quantity))];
    const then = items.length > 0 ? ifItHelps(ask, { lots }) : undefined;
    if (then?.standing.missing === 0) return { materials: items, standing: then.standing };
  }
  return undefined;
}

const oneMoreLot = (item: string, free: number, name = item, expiresOn: string | null = null): SnapshotLot => ({
  code: `${ONE_MORE} ${name}`,
  item,
  free,
  onHand: free,
  valueE4: 0,
  expiresOn,
});

function deliveriesHere(ask: Asked, alone: Proposal): Help | undefined {
  const taken = new Set(
    [...alone.batches.flatMap(({ inputs }) => inputs), ...alone.lines].flatMap((one) =>
      one.taken.filter(({ from }) => from === 'delivery').map(({ key }) => key),
    ),
  );
  const awaited = ask.before.deliveries.filter(({ key }) => taken.has(key));
  if (awaited.length === 0) return undefined;
  const change = {
    lots: [
      ...ask.before.lots,
      ...awaited.map(({ key, item, free, expiresOn }) => oneMoreLot(item, free, key, expiresOn)),
    ],
    deliveries: ask.before.deliveries.filter((one) => !awaited.includes(one)),
  };
  const then = ifItHelps(ask, change);
  return then && { deliveries: awaited.map(({ key, day }) => ({ key, day })), standing: then.standing };
}
