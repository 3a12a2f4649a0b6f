import { addDays } from '../../src/kernel/measure/day.js';
import type { Snapshot, SnapshotWashing, SnapshotWashingRow, WashedThing } from '../../src/kernel/plan/snapshot.js';
import { seeded } from './workshop.js';

/** `heavy` is a scent, `candle!` a family, the empty text anything. */
export const thing = (name: string): WashedThing => {
  if (name === '') return { family: null, scent: null };
  return name.endsWith('!') ? { family: name.slice(0, -1), scent: null } : { family: null, scent: name };
};

/** Minutes after one thing, before another; `where`: a vessel in capitals, or a kind; nothing: any. */
export const wash = (after: string, before: string, minutes: number, where = ''): SnapshotWashingRow => ({
  vessel: /^[A-Z]/.test(where) ? where : null,
  kind: /^[a-z]/.test(where) ? where : null,
  after: thing(after),
  before: thing(before),
  minutes,
});

/** What is said of washing: rows, and the scent of each item, all sprays. */
export const washingBy = (
  rows: SnapshotWashingRow[],
  scents: Record<string, string | null>,
  rest: Partial<SnapshotWashing> = {},
): SnapshotWashing => ({
  rows: [...rows],
  items: Object.entries(scents).map(([code, scent]) => ({ code, family: 'spray', scent })),
  held: [],
  making: [],
  ...rest,
});

const SCENTS = ['light', 'heavy', 'citrus', null];
const FAMILIES = ['spray', 'candle', 'body'];

/** The workshop with a washing table, vessels that held something, and batches in the making in some of them. */
export function withRandomWashing(shop: Snapshot, seed: number): Snapshot {
  const pick = seeded(seed + 2_000_003);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const made = shop.items.filter(({ kind }) => kind !== 'material').map(({ code }) => code);
  const names = ['', 'light', 'heavy', 'citrus', 'spray!', 'candle!', 'body!'];
  const places = ['', 'pot', 'jug', ...shop.vessels.map(({ code }) => code)];
  const rows = new Map<string, SnapshotWashingRow>();
  for (let n = between(1, 14); n > 0; n--) {
    const [after, before, where] = [names, names, places].map((list) => list[pick(list.length)]!);
    rows.set(`${after} ${before} ${where}`, wash(after!, before!, [0, 15, 45, 120, 300][pick(5)]!, where));
  }
  const washing: SnapshotWashing = {
    rows: [...rows.values()],
    items: made.map((code) => ({ code, family: FAMILIES[pick(3)]!, scent: SCENTS[pick(4)]! })),
    held: [],
    making: [],
  };
  const poured = shop.formulas.filter(({ vesselKind }) => vesselKind !== null);
  for (const vessel of shop.vessels) {
    const ofKind = poured.filter(({ vesselKind }) => vesselKind === vessel.kind).map(({ item }) => item);
    if (pick(2) === 0) washing.held.push({ vessel: vessel.code, item: made[pick(made.length)]! });
    if (ofKind.length === 0 || pick(3) === 0) continue;
    const [began, rests, minutes] = [between(1, 24), between(0, 4), between(10, 60)];
    const readyOn = addDays(shop.today, began + rests);
    shop.making.push({
      code: `${vessel.code}-B`,
      item: ofKind[pick(ofKind.length)]!,
      free: 0,
      day: addDays(shop.today, began),
      readyOn,
      emptiedOn: readyOn,
      vessel: vessel.code,
      minutes,
      expiresOn: null,
    });
    washing.making.push({ code: `${vessel.code}-B`, minutes: pick(minutes) });
  }
  return { ...shop, washing };
}
