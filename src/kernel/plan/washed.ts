import type { Day } from '../measure/day.js';
import type { Model } from './model.js';
import type { SnapshotVessel } from './snapshot.js';
import { type Stay, VesselDays } from './vessel-days.js';
import type { Washing } from './washing.js';

type Vessel = Pick<SnapshotVessel, 'code' | 'kind'>;

/** What it takes to pour something into a vessel that is free on that day. */
export interface ToWash {
  /** Minutes of that day. */
  minutes: number;
  /** The day on which something is to be poured there next, and how much more, or less, that needs then. */
  next: Day | null;
  more: number;
  /** What that asks for of who makes it, and so washes for it. */
  skill?: string;
}

/** What has to be washed for an item that is poured into a free vessel on a day, and for what is to be poured there next. */
export function toWash(washing: Washing, vessel: VesselDays, day: Day, item: string): ToWash {
  const [before, next] = vessel.around(day);
  const stood = before ? lastIn(before) : { item: vessel.held ?? null, isPlanned: false };
  const minutes = washing.minutes(vessel, stood.item, item);
  if (!next) return { minutes, next: null, more: 0 };
  const now = minutesBefore(washing, vessel, next, stood);
  const more = minutesBefore(washing, vessel, next, { item, isPlanned: true }) - now;
  return { minutes, next: next.from, more, skill: next.skill };
}

interface Stood {
  item: string | null;
  isPlanned: boolean;
}

const lastIn = ({ last, promised }: Stay): Stood => ({ item: last ?? null, isPlanned: promised === undefined });

/** A batch in the making keeps the minutes it was promised, and takes more where the plan puts something before it that needs more. */
function minutesBefore(washing: Washing, vessel: Vessel, { first, promised }: Stay, stood: Stood): number {
  if (promised !== undefined && !stood.isPlanned) return promised;
  return Math.max(promised ?? 0, first === undefined ? 0 : washing.minutes(vessel, stood.item, first));
}

/** A batch of a plan, where it stands and since when. */
export interface Poured {
  key: string;
  item: string;
  vessel: string | null;
  day: Day | null;
  emptied: Day | null;
}

/** Minutes that a batch has for washing its vessel, and the item that stood there before; `more` than it was promised. */
export interface Washed {
  key: string;
  day: Day;
  minutes: number;
  more: number;
  after: string;
}

/** What is washed for which batch: of the plan, and in the making where the plan puts something before it that needs more. */
export interface WashedInAll {
  planned: Map<string, Washed>;
  making: Map<string, Washed>;
}

export function washedInAll(model: Model, poured: Iterable<Poured>): WashedInAll {
  const washed: WashedInAll = { planned: new Map(), making: new Map() };
  const { washing } = model;
  if (!washing) return washed;
  const byVessel = new Map<string, Poured[]>();
  for (const one of poured) {
    if (one.vessel === null || one.day === null) continue;
    const list = byVessel.get(one.vessel);
    if (list) list.push(one);
    else byVessel.set(one.vessel, [one]);
  }
  for (const vessel of model.vessels) {
    const list = byVessel.get(vessel.code);
    if (list) washIn(washing, new VesselDays(vessel), list, washed);
  }
  return washed;
}

function washIn(
  washing: Washing,
  vessel: VesselDays,
  poured: readonly Poured[],
  { planned, making }: WashedInAll,
): void {
  const keyOf = new Map<Stay, string>();
  for (const { key, item, day, emptied } of poured) {
    const stay = { from: day!, to: emptied!, first: item, last: item };
    vessel.add(stay);
    keyOf.set(stay, key);
  }
  let stood: Stood = { item: vessel.held ?? null, isPlanned: false };
  for (const stay of vessel.inOrder()) {
    const minutes = minutesBefore(washing, vessel, stay, stood);
    const more = minutes - (stay.promised ?? 0);
    const key = keyOf.get(stay);
    const row = { day: stay.from, minutes, more, after: stood.item! };
    if (key !== undefined && minutes > 0) planned.set(key, { key, ...row });
    if (key === undefined && more > 0) making.set(stay.key!, { key: stay.key!, ...row });
    stood = lastIn(stay);
  }
}

/** All the minutes of washing that a plan takes: those of its batches, and what others need more because of them. */
export const moreWashing = ({ planned, making }: WashedInAll): number =>
  [...planned.values(), ...making.values()].reduce((sum, { more }) => sum + more, 0);

/** What stands in one vessel, in the order of its days, which are ISO 8601 text: minutes of washing before each, and after what. */
export function washedInTurn(
  washing: Washing,
  vessel: Vessel,
  held: string | null,
  stays: readonly { item: string; emptiedOn: string }[],
): { minutes: number; after: string | null }[] {
  let [stood, until] = [held, ''];
  return stays.map(({ item, emptiedOn }) => {
    const after = stood;
    if (emptiedOn >= until) [stood, until] = [item, emptiedOn];
    return { minutes: washing.minutes(vessel, after, item), after };
  });
}
