import type { LineCover, Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';

/*
 * What must be true of orders that are sent complete, and of lines that are sent in parts, by arithmetic of its own over the
 * rows, as in plan-checker.ts. Days are whole days since 1970.
 */

const dayOf = (iso: string): number => Date.parse(`${iso}T00:00:00Z`) / 86_400_000;

/** From when on what is taken is there, by `from key`. */
type Supplies = ReadonlyMap<string, { from: number }>;

/** The lines with which a line goes, itself among them; none where it goes by itself. */
export function goesWith(shop: Snapshot, key: string): SnapshotLine[] {
  const { sends, order } = shop.lines.find((line) => line.key === key)!;
  return sends === 'complete' ? shop.lines.filter((line) => line.sends === 'complete' && line.order === order) : [];
}

const isInParts = (shop: Snapshot, key: string): boolean =>
  shop.lines.find((line) => line.key === key)!.sends === 'parts';

/** The first day on which a customer takes a line, and all that goes with it. */
export function firstTaken(shop: Snapshot, { key, notBefore }: LineCover): number {
  const days = [notBefore, ...goesWith(shop, key).flatMap((line) => [line.notBefore, line.asideOn])];
  return Math.max(0, ...days.map((day) => (day ? dayOf(day) : 0)));
}

/** The day by which all that goes with a line is to be there. */
const dueWith = (shop: Snapshot, { key, shipBy }: LineCover): number =>
  Math.min(dayOf(shipBy), ...goesWith(shop, key).map((line) => dayOf(line.shipBy)));

/** The day a line goes, whose takes must be good then; of one that is sent in parts as far as it is in time. */
export function leavesOn(shop: Snapshot, line: LineCover): number {
  const ready = line.readyOn === null || isInParts(shop, line.key) ? 0 : dayOf(line.readyOn);
  return Math.max(dueWith(shop, line), firstTaken(shop, line), ready);
}

/** Whether what is taken for a line goes when it is there, whatever else is missing or comes later. */
export const goesAsItComes = (shop: Snapshot, line: LineCover): boolean =>
  line.readyOn === null || isInParts(shop, line.key);

export function sendsFaults(shop: Snapshot, plan: Proposal, supplies: Supplies): string[] {
  const covers = new Map(plan.lines.map((line) => [line.key, line]));
  const names = new Set(shop.lines.filter(({ sends }) => sends === 'complete').map(({ order }) => order));
  const orders = [...names].map((name) =>
    shop.lines.filter(({ sends, order }) => sends === 'complete' && order === name).map(({ key }) => covers.get(key)!),
  );
  return [
    ...orders.flatMap((lines) => completeFaults(shop, plan, lines, supplies)),
    ...plan.lines.flatMap((line) => partFaults(shop, line, supplies)),
  ];
}

const lastOf = (shop: Snapshot, line: LineCover, supplies: Supplies): number =>
  Math.max(dayOf(shop.today), ...line.taken.map(({ from, key }) => supplies.get(`${from} ${key}`)!.from));

/** All of an order or nothing: one day for all its lines, the last of theirs. */
function completeFaults(shop: Snapshot, plan: Proposal, lines: readonly LineCover[], supplies: Supplies): string[] {
  const faults: string[] = [];
  const own = new Map(lines.map((line) => [line.key, lastOf(shop, line, supplies)]));
  const last = Math.max(...own.values());
  const goes = Math.max(last, firstTaken(shop, lines[0]!));
  const isServed = lines.every(({ missing }) => missing === 0);
  if (!isServed && lines.every(({ because }) => because === 'order'))
    faults.push(`${lines[0]!.key} and all that goes with it wait for each other`);
  for (const { key, taken, missing, quantity, readyOn, waitsFor, because, shipBy } of lines) {
    if (isServed && dayOf(readyOn!) !== goes)
      faults.push(`${key} is ready on ${readyOn}, the last of its order on ${goes}`);
    if (!isServed && (taken.length > 0 || missing !== quantity))
      faults.push(`${key} takes something, and its order is not sent`);
    if (!isServed && (because === 'order') !== (waitsFor !== undefined))
      faults.push(`${key} waits for ${waitsFor?.line}, because of ${because}`);
    if (because === 'short' && !plan.shortfalls.some(({ hurts }) => hurts.lines.includes(key)))
      faults.push(`${key} is short, and nothing short hurts it`);
    const isLate = isServed && goes > dayOf(shipBy);
    const isKeptBack = isServed && own.get(key)! < last && last > firstTaken(shop, lines[0]!);
    if (isServed && isKeptBack !== (waitsFor !== undefined))
      faults.push(`${key} waits for ${waitsFor?.line}, others do not`);
    if (isLate && isKeptBack !== (because === 'order') && because !== 'order')
      faults.push(`${key} is late because of ${because}, and others come later`);
    if (waitsFor) faults.push(...waitFaults(key, waitsFor, lines, { isServed, last, own }));
  }
  return faults;
}

/** Who is waited for is another of the order, and the last of it or not covered. */
function waitFaults(
  key: string,
  waitsFor: NonNullable<LineCover['waitsFor']>,
  lines: readonly LineCover[],
  { isServed, last, own }: { isServed: boolean; last: number; own: ReadonlyMap<string, number> },
): string[] {
  const other = lines.find((line) => line.key === waitsFor.line);
  if (!other || other.key === key || other.item !== waitsFor.item) return [`${key} waits for ${waitsFor.line}`];
  if (!isServed)
    return waitsFor.readyOn === null && other.because !== 'order'
      ? []
      : [`${key} waits for ${other.key}, which is covered`];
  return own.get(other.key) === last && dayOf(waitsFor.readyOn!) === last
    ? []
    : [`${key} waits for ${other.key} in vain`];
}

/** Parts add up to the line, each on the day on which what it is taken of is there. */
function partFaults(shop: Snapshot, line: LineCover, supplies: Supplies): string[] {
  if (!isInParts(shop, line.key)) return line.parts ? [`${line.key} goes in parts, and nobody said so`] : [];
  const onDay = new Map<number, number>();
  for (const { from, key, quantity } of line.taken) {
    const day = Math.max(dayOf(shop.today), firstTaken(shop, line), supplies.get(`${from} ${key}`)!.from);
    onDay.set(day, (onDay.get(day) ?? 0) + quantity);
  }
  const expected = [...onDay].sort(([a], [b]) => a - b);
  const said = (line.parts ?? []).map(({ on, quantity }): [number, number] => [dayOf(on), quantity]);
  const sum = said.reduce((total, [, quantity]) => total + quantity, line.missing);
  return [
    ...(JSON.stringify(said) === JSON.stringify(expected) ? [] : [`${line.key} goes in other parts than it says`]),
    ...(sum === line.quantity ? [] : [`parts of ${line.key} add up to ${sum}`]),
  ];
}
