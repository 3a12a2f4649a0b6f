import type { Snapshot, SnapshotFormula, SnapshotLine } from '../../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line, seeded } from '../workshop.js';
import { dayOf, isBusy, isoOf, minutesFree, minutesOf, putIn, startOf } from './arithmetic.js';
import { PLENTY } from './weeks.js';

/*
 * The best plan of a week so tiny that every plan can be tried, to show that the solver is asked the right question.
 */

/** One batch of a product: in a vessel, or filled from one. */
interface Place {
  formula: SnapshotFormula;
  day: number;
  vessel: string | null;
}

interface Piece {
  place: string;
  quantity: number;
}

/**
 * Two or three lines of few pieces in one or two vessels over a bench that holds little. `isEnding`: of the wax there are two
 * lots that end.
 */
export function tinyWeek(seed: number, isEnding = false): Snapshot {
  const pick = seeded(seed);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const shop = emptyWorkshop();
  shop.workshop.benchMinutes = [0, 1, 2, 3, 4].map(() => [0, 30, 45, 60][pick(4)]!).concat([pick(2) * 30, 0]);
  shop.workshop.benchMinutes[1] = 60;
  shop.items.push(item('WAX', { stocked: false }), item('JAR', { measure: 'counted' }));
  shop.lots.push({ code: 'J1', item: 'JAR', free: pick(6), onHand: 6, valueE4: 0, expiresOn: null });
  shop.deliveries.push({ key: 'J2', item: 'JAR', free: 99, day: isoOf(startOf(shop) + pick(4)), expiresOn: null });
  const isSpray = pick(2) === 0 && !isEnding;
  if (isEnding) addEnding(shop, between);
  for (let n = between(1, 2); n > 0; n--)
    shop.vessels.push({ code: `V${n}`, kind: 'pot', capacityMg: between(2, 4) * 100_000 });
  const most = Math.max(...shop.vessels.map(({ capacityMg }) => capacityMg)) / 100_000;
  const own = { vesselKind: 'pot', restDays: pick(3), minutesBatch: between(5, 25) };
  if (isSpray) {
    shop.items.push(item('BULK', { kind: 'bulk', shelfLifeDays: pick(2) === 0 ? null : own.restDays + pick(3) }));
    shop.formulas.push(formula('BULK', [line(1, 'WAX', 'part', 1_000_000_000)], own));
  }
  for (let n = 1; n <= 2; n++) {
    const parts = [line(1, isSpray ? 'BULK' : 'WAX', 'each', 100_000), line(2, 'JAR', 'each', 1, 'pack')];
    const timing = isSpray ? { minutesBatch: between(5, 15), restDays: pick(2) } : { ...own, restDays: pick(3) };
    const made = formula(`P${n}`, parts, { ...timing, secondsUnit: [60, 300, 450][pick(3)]!, batchMax: most });
    shop.items.push(item(`P${n}`, { kind: 'product', measure: 'counted' }));
    shop.formulas.push(made);
    const fits = Math.min(most, Math.floor((60 * (60 - made.minutesBatch)) / made.secondsUnit));
    for (let of = n === 1 ? between(1, 2) : 1; of > 0; of--)
      shop.lines.push({
        key: `L${n}${of}`,
        item: `P${n}`,
        quantity: between(1, Math.min(fits, 3)),
        shipBy: isoOf(startOf(shop) + between(0, 5)),
        notBefore: null,
      });
  }
  return shop;
}

function addEnding({ items, lots, today }: Snapshot, between: (low: number, high: number) => number): void {
  items.find(({ code }) => code === 'WAX')!.stocked = true;
  const [first, second] = [between(0, 4), between(2, 6)];
  const add = (code: string, free: number, expiresOn: string | null): void =>
    void lots.push({ code, item: 'WAX', free, onHand: free, valueE4: free, expiresOn });
  add('W1', between(1, 3) * 100_000, isoOf(dayOf(today) + first));
  add('W2', between(1, 3) * 100_000, isoOf(dayOf(today) + Math.max(first, second)));
  add('W3', PLENTY, null);
}

interface Best {
  lateLines: number;
  lateDays: number;
  wasteE4: number;
}

/** Of what ends first, as much as is taken by then; of what ends next, as much of the rest as is taken by then. */
function wasteOf(shop: Snapshot, batches: readonly (Place & { output: number })[]): number {
  const ending = shop.lots.filter(({ expiresOn }) => expiresOn !== null);
  let [taken, waste] = [0, 0];
  for (const { free, expiresOn } of ending) {
    const by = batches.filter(({ day }) => day <= dayOf(expiresOn!));
    const used = Math.min(free, by.reduce((sum, { output }) => sum + output * 100_000, 0) - taken);
    taken += used;
    waste += free - used;
  }
  return waste;
}

/** Fewest late lines, then fewest days late, then least waste, of all plans whose last batch is ready by `lastDay`; null where there is none. */
export function bestByTrying(shop: Snapshot, lastDay: number): Best | null {
  let best: Best | null = null;
  const places = placesOf(shop, lastDay);
  const made = new Map<string, number>();
  const tryLine = (n: number, lateLines: number, lateDays: number): void => {
    if (best && isBeaten({ lateLines, lateDays, wasteE4: 0 }, best)) return;
    const row = shop.lines[n];
    if (!row) {
      if (canPour(shop, places, made)) {
        const found = { lateLines, lateDays, wasteE4: wasteOf(shop, used(places, made)) };
        if (!best || isBetter(found, best)) best = found;
      }
      return;
    }
    for (const pieces of splits(row, places)) {
      for (const { place, quantity } of pieces) made.set(place, (made.get(place) ?? 0) + quantity);
      if (isPossible(shop, places, made)) {
        const ready = pieces.map(({ place }) => readyOf(places.get(place)!));
        const late = Math.max(0, ...ready.map((day) => day - dayOf(row.shipBy)), startOf(shop) - dayOf(row.shipBy));
        tryLine(n + 1, lateLines + (late > 0 ? 1 : 0), lateDays + late);
      }
      for (const { place, quantity } of pieces) made.set(place, made.get(place)! - quantity);
    }
  };
  tryLine(0, 0, 0);
  return best;
}

const isBetter = (one: Best, other: Best): boolean =>
  (one.lateLines - other.lateLines || one.lateDays - other.lateDays || one.wasteE4 - other.wasteE4) < 0;

/** Whether nothing that begins so can be better than `best`. */
const isBeaten = (one: Best, best: Best): boolean => !isBetter(one, best);

const readyOf = ({ day, formula: { restDays } }: Place): number => day + restDays;

function placesOf(shop: Snapshot, lastDay: number): Map<string, Place> {
  const places = new Map<string, Place>();
  for (const of of shop.formulas.filter(({ item: code }) => code !== 'BULK'))
    for (let day = startOf(shop); day + of.restDays <= lastDay; day++)
      for (const { code } of shop.vessels) places.set(`${of.item} ${day} ${code}`, { formula: of, day, vessel: code });
  return places;
}

/** All of a line out of one batch, or in two parts out of two. */
function* splits({ item: code, quantity }: SnapshotLine, places: ReadonlyMap<string, Place>): Generator<Piece[]> {
  const own = [...places].filter(([, place]) => place.formula.item === code).map(([key]) => key);
  for (const place of own) yield [{ place, quantity }];
  for (const [i, one] of own.entries())
    for (const other of own.slice(i + 1))
      for (let first = 1; first < quantity; first++)
        yield [
          { place: one, quantity: first },
          { place: other, quantity: quantity - first },
        ];
}

const used = (places: ReadonlyMap<string, Place>, made: ReadonlyMap<string, number>): (Place & { output: number })[] =>
  [...made].filter(([, output]) => output > 0).map(([key, output]) => ({ ...places.get(key)!, output }));

/** In how many batches a product is made at most, by its lines: with more there were too many plans to try. */
export const twoOrMore = (lines: number): number => Math.max(2, lines);

/** Bench, jars, vessels and no more than two batches of a product, as far as no pour is asked for. */
function isPossible(shop: Snapshot, places: ReadonlyMap<string, Place>, made: ReadonlyMap<string, number>): boolean {
  const batches = used(places, made);
  const jars = (by: number): number =>
    shop.lots[0]!.free + (dayOf(shop.deliveries[0]!.day) <= by ? shop.deliveries[0]!.free : 0);
  const lines = (code: string): number => shop.lines.filter((row) => row.item === code).length;
  return batches.every((batch) => {
    const { formula: of, day, vessel, output } = batch;
    const sameDay = batches.filter((one) => one.day === day);
    const minutes = sameDay.reduce((sum, one) => sum + minutesOf(one.formula, one.output), 0);
    const packed = batches.filter((one) => readyOf(one) <= readyOf(batch)).reduce((sum, one) => sum + one.output, 0);
    const isAlone = (one: Place): boolean =>
      of.vesselKind === null ||
      one.vessel !== vessel ||
      (one.day === day && one.formula === of) ||
      readyOf(one) < day ||
      one.day > readyOf(batch);
    return (
      minutesFree(shop, day) > 0 &&
      minutes <= minutesFree(shop, day) &&
      packed <= jars(readyOf(batch)) &&
      putIn(shop, of, output) <= shop.vessels.find(({ code }) => code === vessel)!.capacityMg &&
      batches.filter((one) => one.formula === of).length <= twoOrMore(lines(of.item)) &&
      batches.every(isAlone)
    );
  });
}

/** Whether pours can be found for all that is filled: each day's fillings from one vessel come out of one pour. */
function canPour(shop: Snapshot, places: ReadonlyMap<string, Place>, made: ReadonlyMap<string, number>): boolean {
  const bulk = shop.formulas.find(({ item: code }) => code === 'BULK');
  if (!bulk) return true;
  const batches = used(places, made);
  const life = shop.items.find(({ code }) => code === 'BULK')!.shelfLifeDays ?? Number.POSITIVE_INFINITY;
  const minutes = new Map<number, number>();
  for (const { day, formula: of, output } of batches) minutes.set(day, (minutes.get(day) ?? 0) + minutesOf(of, output));
  const days = shop.vessels.flatMap(({ code, capacityMg }) =>
    [...new Set(batches.filter(({ vessel }) => vessel === code).map(({ day }) => day))]
      .sort((a, b) => a - b)
      .map((day) => {
        const drawn = batches.filter((one) => one.vessel === code && one.day === day);
        return { code, capacityMg, day, drawnMg: drawn.reduce((sum, { output }) => sum + output * 100_000, 0) };
      }),
  );
  /** From the n-th filling day on, `current` being what stands in the vessel of the one before. */
  const fillFrom = (
    n: number,
    current: { code: string; pour: number; drawnMg: number; to: number } | null,
  ): boolean => {
    const next = days[n];
    if (!next) return true;
    const { code, capacityMg, day, drawnMg } = next;
    const same = current?.code === code ? current : null;
    if (same && day <= same.pour + life && same.drawnMg + drawnMg <= capacityMg)
      if (fillFrom(n + 1, { ...same, drawnMg: same.drawnMg + drawnMg, to: day })) return true;
    if (drawnMg > capacityMg) return false;
    const first = Math.max(startOf(shop), same ? Math.max(same.to, same.pour + bulk.restDays) + 1 : 0, day - life);
    for (let pour = first; pour <= day - bulk.restDays; pour++) {
      const taken = (minutes.get(pour) ?? 0) + bulk.minutesBatch;
      if (isBusy(shop, code, pour) || minutesFree(shop, pour) === 0 || taken > minutesFree(shop, pour)) continue;
      minutes.set(pour, taken);
      const isDone = fillFrom(n + 1, { code, pour, drawnMg, to: day });
      minutes.set(pour, taken - bulk.minutesBatch);
      if (isDone) return true;
    }
    return false;
  };
  return fillFrom(0, null);
}
