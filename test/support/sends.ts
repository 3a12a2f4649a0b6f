import { addDays } from '../../src/kernel/measure/day.js';
import { byText } from '../../src/kernel/measure/text-order.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { seeded } from './workshop.js';

/** A line of an order that is sent complete. */
export const complete = (line: SnapshotLine, order = 'O', asideOn: string | null = null): SnapshotLine => ({
  ...line,
  sends: 'complete',
  order,
  asideOn,
});

export const inParts = (line: SnapshotLine): SnapshotLine => ({ ...line, sends: 'parts' });

/** The workshop with orders of one to four lines that are due one after the other, some sent complete, and some in parts. */
export function withRandomSends(shop: Snapshot, seed: number): Snapshot {
  const pick = seeded(seed + 3_000_017);
  const byDue = shop.lines.toSorted((a, b) => byText(a.shipBy, b.shipBy) || byText(a.key, b.key));
  const lines: SnapshotLine[] = [];
  for (let order = 0; lines.length < byDue.length; order++) {
    const rows = byDue.slice(lines.length, lines.length + 1 + pick(4));
    const how = pick(3);
    const asideOn = pick(5) === 0 ? addDays(shop.today, pick(30)) : null;
    for (const row of rows)
      lines.push(how === 0 ? complete(row, `ORDER-${order}`, asideOn) : how === 1 ? inParts(row) : row);
  }
  return { ...shop, lines };
}
