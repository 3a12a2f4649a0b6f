import type { Snapshot } from '../../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line, seeded } from '../workshop.js';
import { isoOf, startOf } from './arithmetic.js';
import { Mip, type Term, type Var } from './mip.js';

/** What there is of a material, in hundredths of what all orders together need of it. */
const SHARES = [60, 80, 100, 115];

/**
 * A day of orders for which there is not enough of what several products share. Time and vessels are ample, a batch may be
 * as small as one piece, and every weight is a whole number of the scale's steps, so that nothing is rounded.
 */
export function shortage(seed: number): Snapshot {
  if (seed === 1) return tenLines();
  const pick = seeded(seed);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const shop = ampleWorkshop();
  const shared = ['BOTTLE-S', 'BOTTLE-L', 'CAP', 'LABEL', 'GIFT-BOX'];
  for (const code of shared) shop.items.push(item(code, { measure: 'counted' }));
  shop.items.push(item('OIL-1'), item('OIL-2'));
  const bulks = between(1, 3);
  for (let n = 1; n <= bulks; n++) {
    shop.items.push(item(`BULK-${n}`, { kind: 'bulk' }));
    const oil = between(1, 3) * 100_000_000;
    shop.formulas.push(
      formula(
        `BULK-${n}`,
        [line(1, 'WATER', 'part', 1_000_000_000 - oil), line(2, `OIL-${between(1, 2)}`, 'part', oil)],
        { vesselKind: 'jug', lossPpb: pick(2) * 200_000_000, restDays: pick(3) },
      ),
    );
  }
  for (let n = between(3, 6); n > 0; n--) {
    const code = `SPRAY-${n}`;
    shop.items.push(item(code, { kind: 'product', measure: 'counted' }));
    const parts = [
      line(1, `BULK-${between(1, bulks)}`, 'each', between(10, 50) * 4_000, 'fill'),
      line(2, `BOTTLE-${pick(2) === 0 ? 'S' : 'L'}`, 'each', 1, 'fill'),
      line(3, 'CAP', 'each', 1, 'fill'),
      ...(pick(2) === 0 ? [line(4, 'LABEL', 'each', between(1, 2), 'pack')] : []),
      ...(pick(4) === 0 ? [line(5, 'GIFT-BOX', 'each', 1, 'pack')] : []),
    ];
    shop.formulas.push(formula(code, parts));
    for (let of = between(1, 4); of > 0; of--)
      shop.lines.push({
        key: `${code}-${of}`,
        item: code,
        quantity: between(2, 24),
        shipBy: isoOf(startOf(shop) + between(5, 19)),
        notBefore: null,
      });
    if (pick(4) === 0) addLot(shop, code, between(1, 12));
  }
  if (pick(3) === 0) addLot(shop, 'BULK-1', between(100, 900) * 1_000);
  addSupplies(shop, pick);
  return shop;
}

const ampleWorkshop = (): Snapshot => {
  const shop = emptyWorkshop();
  shop.workshop.slackDays = 0;
  shop.items.push(item('WATER', { stocked: false }));
  for (let n = 1; n <= 6; n++) shop.vessels.push({ code: `JUG-${n}`, kind: 'jug', capacityMg: 1_000_000_000 });
  return shop;
};

/** Ten lines of ten pieces, and one bottle too few. */
function tenLines(): Snapshot {
  const shop = ampleWorkshop();
  shop.items.push(item('BOTTLE', { measure: 'counted' }), item('SPRAY', { kind: 'product', measure: 'counted' }));
  shop.formulas.push(formula('SPRAY', [line(1, 'BOTTLE', 'each', 1), line(2, 'WATER', 'each', 100_000)]));
  for (let n = 0; n < 10; n++)
    shop.lines.push({
      key: `LINE-${n}`,
      item: 'SPRAY',
      quantity: 10,
      shipBy: isoOf(startOf(shop) + 9),
      notBefore: null,
    });
  addLot(shop, 'BOTTLE', 99);
  return shop;
}

function addLot({ lots }: Snapshot, code: string, free: number): void {
  lots.push({ code: `${code}-L`, item: code, free, onHand: free, valueE4: free, expiresOn: null });
}

function addSupplies(shop: Snapshot, pick: (below: number) => number): void {
  for (const { code } of shop.items.filter(({ kind, stocked }) => kind === 'material' && stocked)) {
    const needed = shop.lines.reduce((sum, { item: of, quantity }) => sum + quantity * usePerUnit(shop, of, code), 0);
    const share = SHARES[pick(SHARES.length)]!;
    const free = Math.floor((needed * share) / 100);
    if (free > 0) addLot(shop, code, free);
  }
}

/** How much of a material, or of another made item, one unit takes through all levels. */
function usePerUnit(shop: Snapshot, of: string, code: string): number {
  if (of === code) return 1;
  const made = shop.formulas.find(({ item: one }) => one === of);
  if (!made) return 0;
  return made.lines.reduce((sum, row) => sum + perUnit(made, row) * usePerUnit(shop, row.item, code), 0);
}

/** How much of a line goes into one unit of what comes out: 25 % more where a fifth is lost. */
const perUnit = ({ lossPpb }: { lossPpb: number }, { basis, amount }: { basis: string; amount: number }): number =>
  basis === 'each' ? amount : amount / (1_000_000_000 - lossPpb);

/** The most order lines that can be covered whole, proven. */
export function mostCovered(shop: Snapshot, seconds = 600): number {
  const mip = new Mip();
  const covered = shop.lines.map((row) => ({ row, isCovered: mip.yesNo() }));
  const made = new Map<string, Var>();
  for (const { item: code } of shop.formulas) {
    const isBulk = shop.items.find((one) => one.code === code)!.kind === 'bulk';
    made.set(code, isBulk ? mip.real(0, 1e12) : mip.whole(0, 1e6));
  }
  for (const { code, stocked } of shop.items) {
    if (!stocked) continue;
    const taken = covered
      .filter(({ row }) => row.item === code)
      .map(({ row, isCovered }): Term => [row.quantity, isCovered]);
    for (const one of shop.formulas)
      for (const row of one.lines) if (row.item === code) taken.push([perUnit(one, row), made.get(one.item)!]);
    const own = made.get(code);
    const there = shop.lots.filter(({ item: of }) => of === code).reduce((sum, { free }) => sum + free, 0);
    mip.row([...taken, ...(own === undefined ? [] : [[-1, own] as const])], '<=', there);
  }
  return -mip.least(
    covered.map(({ isCovered }): Term => [-1, isCovered]),
    seconds,
  )!.value;
}
