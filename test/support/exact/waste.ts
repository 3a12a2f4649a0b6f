import type { Snapshot } from '../../../src/kernel/plan/snapshot.js';
import { dayOf, divisor, startOf } from './arithmetic.js';
import { type Cell, outOf } from './cells.js';
import type { Mip, Term } from './mip.js';

/**
 * The least value of what expires unused, lots being worth `valueE4` for all that is on hand: a lot may be taken from until
 * its last day, of what the batches of each day take.
 */
export function leastWaste({ mip, shop, cells }: { mip: Mip; shop: Snapshot; cells: Cell[] }, seconds: number): number {
  const ending = shop.lots.filter(({ expiresOn }) => expiresOn !== null);
  if (ending.length === 0) return 0;
  const unit = [
    ...ending.map(({ free }) => free),
    ...shop.formulas.flatMap(({ lines }) =>
      lines.filter((row) => isEnding(shop, row.item)).map(({ amount }) => amount),
    ),
  ].reduce(divisor, 0);
  const worth = ending.map(({ valueE4, onHand }) => (valueE4 * unit) / onHand);
  const takenOn = new Map<string, Term[]>();
  const saved: Term[] = [];
  ending.forEach(({ item, free, expiresOn }, n) => {
    const ofLot: Term[] = [];
    for (let day = startOf(shop); day <= dayOf(expiresOn!); day++) {
      const taken = mip.real(0, free / unit);
      ofLot.push([1, taken]);
      saved.push([-worth[n]! / worth[0]!, taken]);
      const key = `${item} ${day}`;
      takenOn.set(key, [...(takenOn.get(key) ?? []), [1, taken]]);
    }
    mip.row(ofLot, '<=', free / unit);
  });
  for (const [key, taken] of takenOn) {
    const [code, day] = key.split(' ');
    const used = cells
      .filter((cell) => cell.day === Number(day))
      .flatMap((cell) =>
        cell.formula.lines
          .filter(({ item, basis }) => item === code && basis === 'each')
          .flatMap(({ amount }) => outOf(cell).map(([by, out]): Term => [(-by * amount) / unit, out])),
      );
    mip.row([...taken, ...used], '<=', 0);
  }
  const all = ending.reduce((sum, { valueE4, free, onHand }) => sum + (valueE4 * free) / onHand, 0);
  return all + mip.least(saved, seconds)!.value * worth[0]!;
}

const isEnding = (shop: Snapshot, code: string): boolean =>
  shop.lots.some(({ item, expiresOn }) => item === code && expiresOn !== null);
