import { addDays } from '../../src/kernel/measure/day.js';
import type {
  Snapshot,
  SnapshotFormula,
  SnapshotFormulaLine,
  SnapshotItem,
  SnapshotLine,
} from '../../src/kernel/plan/snapshot.js';

/** A small seeded generator (mulberry32), so that a failing workshop can be made again from its seed. */
export function seeded(seed: number): (below: number) => number {
  let state = seed >>> 0;
  return (below) => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return Math.floor((((t ^ (t >>> 14)) >>> 0) / 4294967296) * below);
  };
}

export const item = (code: string, rest: Partial<SnapshotItem> = {}): SnapshotItem => ({
  code,
  kind: 'material',
  measure: 'weighed',
  policy: 'to-order',
  target: 0,
  seasonFrom: null,
  seasonTo: null,
  stocked: true,
  shelfLifeDays: null,
  owedLifeDays: 0,
  ...rest,
});

export const formula = (
  of: string,
  lines: SnapshotFormulaLine[],
  rest: Partial<SnapshotFormula> = {},
): SnapshotFormula => ({
  item: of,
  version: 1,
  vesselKind: null,
  batchMin: 1,
  batchMax: null,
  batchMultiple: 1,
  lossPpb: 0,
  residueMg: 0,
  minutesBatch: 0,
  secondsUnit: 0,
  restDays: 0,
  lines,
  ...rest,
});

export const line = (
  position: number,
  of: string,
  basis: SnapshotFormulaLine['basis'],
  amount: number,
  step: SnapshotFormulaLine['step'] = 'make',
): SnapshotFormulaLine => ({ position, item: of, basis, amount, step });

/** An empty workshop, open on weekdays, on Monday 4 January 2027. */
export const emptyWorkshop = (rest: Partial<Snapshot> = {}): Snapshot => ({
  today: '2027-01-04',
  weekStart: '2027-01-04',
  workshop: {
    benchMinutes: [480, 480, 480, 480, 480, 0, 0],
    closedDays: [],
    slackDays: 1,
    receivingDays: 0,
    scaleStepMg: 100,
    scaleLeastMg: 500,
  },
  items: [],
  formulas: [],
  vessels: [],
  lots: [],
  deliveries: [],
  making: [],
  lines: [],
  packs: [],
  use: [],
  ...rest,
});

/**
 * A random workshop: materials, some base bulks, bulks made from them, products filled from those, some sets; lots and
 * deliveries of varied age, orders over five weeks. Often short, often late: that is what is being tested.
 */
export function randomWorkshop(seed: number, size: { products: number; lines: number }): Snapshot {
  const pick = seeded(seed);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const shop = emptyWorkshop();
  shop.workshop.receivingDays = pick(2);
  shop.workshop.benchMinutes = [0, 1, 2, 3, 4].map(() => between(240, 600)).concat([pick(2) * 120, 0]);
  if (pick(3) === 0) shop.weekStart = addDays(shop.today, 7);
  const materials = Array.from({ length: between(4, 10) }, (_, i) => `MAT-${i}`);
  for (const code of materials) shop.items.push(item(code, { stocked: pick(8) > 0 }));
  shop.items.push(item('BOTTLE', { measure: 'counted' }), item('LABEL', { measure: 'counted' }));
  shop.vessels = Array.from({ length: between(1, 3) }, (_, i) => ({
    code: `POT-${i}`,
    kind: 'pot',
    capacityMg: between(5, 20) * 1_000_000,
  }));
  shop.vessels.push({ code: 'JUG', kind: 'jug', capacityMg: 30_000_000 });
  const bulks: string[] = [];
  const parts = (count: number, from: string[]): SnapshotFormulaLine[] => {
    let left = 1_000_000_000;
    return Array.from({ length: count }, (_, i) => {
      const amount = i === count - 1 ? left : between(1, Math.max(1, Math.floor(left / 2)));
      left -= amount;
      return line(i + 1, from[pick(from.length)]!, 'part', amount);
    });
  };
  const bulkCount = Math.max(1, Math.ceil(size.products / 2));
  for (let i = 0; i < bulkCount; i++) {
    const code = `BLK-${i}`;
    shop.items.push(item(code, { kind: 'bulk', shelfLifeDays: pick(2) ? between(60, 400) : null }));
    shop.formulas.push(
      formula(
        code,
        parts(between(1, 4), i > 0 && pick(3) === 0 ? [...materials, bulks[pick(bulks.length)]!] : materials),
        {
          vesselKind: pick(4) ? 'pot' : 'jug',
          batchMin: between(1, 20) * 100_000,
          batchMultiple: [1, 1000, 500_000][pick(3)]!,
          lossPpb: pick(3) * 10_000_000,
          residueMg: pick(2) * 20_000,
          minutesBatch: between(10, 90),
          restDays: pick(4) * 4,
        },
      ),
    );
    bulks.push(code);
  }
  for (let i = 0; i < size.products; i++) {
    const code = `PRD-${i}`;
    const isSet = i > 2 && pick(8) === 0;
    const policy = pick(3) === 0 ? 'to-stock' : 'to-order';
    shop.items.push(
      item(code, {
        kind: isSet ? 'set' : 'product',
        measure: 'counted',
        policy,
        target: policy === 'to-stock' ? between(1, 60) : 0,
        owedLifeDays: pick(3) * 30,
        shelfLifeDays: pick(2) ? between(120, 700) : null,
      }),
    );
    shop.formulas.push(
      isSet
        ? formula(code, [line(1, 'PRD-0', 'each', 1, 'pack'), line(2, 'PRD-1', 'each', between(1, 2), 'pack')])
        : formula(
            code,
            [
              line(1, bulks[pick(bulks.length)]!, 'each', between(10, 250) * 1000, 'fill'),
              line(2, 'BOTTLE', 'each', 1, 'fill'),
              line(3, 'LABEL', 'each', 1, 'pack'),
            ],
            { secondsUnit: between(10, 60), minutesBatch: 10, restDays: pick(3) * 5, lossPpb: pick(2) * 5_000_000 },
          ),
    );
  }
  const products = shop.items.filter((row) => row.kind === 'product' || row.kind === 'set').map((row) => row.code);
  const stockable = [...materials, 'BOTTLE', 'LABEL', ...bulks, ...products];
  for (const code of stockable) {
    const weighed = code.startsWith('MAT') || code.startsWith('BLK');
    for (let i = pick(4); i > 0; i--) {
      const free = weighed ? between(1, 8_000) * 1000 : between(1, 200);
      shop.lots.push({
        code: `${code}-L${i}`,
        item: code,
        free,
        onHand: free,
        valueE4: free,
        expiresOn: pick(3) ? addDays(shop.today, between(-3, 200)) : null,
      });
    }
    if (pick(4) === 0)
      shop.deliveries.push({
        key: `${code}-D`,
        item: code,
        free: weighed ? between(1, 5_000) * 1000 : between(10, 300),
        day: addDays(shop.today, between(-2, 20)),
        expiresOn: pick(2) ? addDays(shop.today, between(30, 300)) : null,
      });
    if (weighed || !products.includes(code))
      shop.packs.push({
        key: `${code}-P`,
        item: code,
        size: weighed ? 454_000 : 48,
        priceE4: between(1, 50) * 10_000,
        leastPacks: between(1, 3),
        leadDays: between(1, 20),
      });
    if (pick(2)) shop.use.push({ item: code, per28Days: weighed ? between(0, 900) * 1000 : between(0, 40) });
  }
  shop.lines = Array.from({ length: size.lines }, (_, i): SnapshotLine => ({
    key: `O${i}`,
    item: pick(30) === 0 ? 'BOTTLE' : products[pick(products.length)]!,
    quantity: between(1, 40),
    shipBy: addDays(shop.today, between(-2, 35)),
    notBefore: null,
  }));
  narrow(shop, seeded(seed + 1_000_003));
  return shop;
}

/**
 * What binds only sometimes, drawn apart: things that keep for some days only, on the shelf, coming and in the making;
 * customers who take nothing before a day; batches that are to be larger than a vessel or a day allows.
 */
function narrow(shop: Snapshot, pick: (below: number) => number): void {
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  for (const row of shop.items) {
    // seldom less than it rests, or than the customer is owed
    const restDays = shop.formulas.find(({ item: of }) => of === row.code)?.restDays ?? 0;
    const least = pick(20) === 0 ? 1 : Math.max(1, restDays + row.owedLifeDays);
    if (row.kind === 'bulk' && pick(2) === 0) row.shelfLifeDays = least + pick(9);
    if (row.kind === 'product' && pick(6) === 0) row.shelfLifeDays = least + pick(30);
  }
  for (const row of shop.formulas) {
    if (pick(6) > 0) continue;
    if (row.vesselKind !== null) row.batchMin = between(4, 40) * 1_000_000;
    else if (row.secondsUnit > 0) row.batchMin = between(100, 1_500);
    else continue;
    if (pick(3) === 0) row.batchMax = row.batchMin;
  }
  for (const { code, kind, shelfLifeDays } of shop.items.filter((row) => row.kind !== 'material')) {
    const isShort = shelfLifeDays !== null && shelfLifeDays < 61;
    const weighed = kind === 'bulk';
    for (const row of [...shop.lots, ...shop.deliveries])
      if (row.item === code && isShort) row.expiresOn = addDays(shop.today, between(-1, shelfLifeDays));
    if (kind === 'set' || pick(3) > 0) continue;
    const began = between(-5, 3);
    const readyOn = began + between(0, 8);
    shop.making.push({
      code: `${code}-M`,
      item: code,
      free: weighed ? between(1, 6_000) * 1000 : between(1, 80),
      day: addDays(shop.today, began),
      readyOn: addDays(shop.today, readyOn),
      emptiedOn: addDays(shop.today, readyOn),
      vessel: null,
      minutes: between(0, 60),
      expiresOn: shelfLifeDays === null ? null : addDays(shop.today, began + shelfLifeDays),
    });
  }
  for (const row of shop.lines) if (pick(3) === 0) row.notBefore = addDays(row.shipBy, -pick(8));
}
