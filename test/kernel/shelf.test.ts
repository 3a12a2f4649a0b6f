import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import type { Job } from '../../src/kernel/plan/job.js';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { drawOnShelf, needDay } from '../../src/kernel/plan/shelf.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { comes, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** Three products of a bottle each, one of them with a cap and a box packed after a rest. */
const bottled: Partial<Snapshot> = {
  items: [...['BOTTLE', 'CAP', 'BOX', 'TAP'].map(counted), ...['A', 'B', 'C'].map((code) => product(code))],
  formulas: [
    formula('A', [line(1, 'BOTTLE', 'each', 1)]),
    formula('B', [line(1, 'BOTTLE', 'each', 1), line(2, 'CAP', 'each', 1)]),
    formula('C', [line(1, 'CAP', 'each', 1), line(2, 'BOX', 'each', 1, 'pack')], { restDays: 3 }),
  ],
};

function netted({ workshop, ...shop }: Partial<Snapshot>) {
  return netOf(openShop({ ...bottled, ...shop }, workshop));
}

/** By batch: what of each input is taken from where and what is missing, each batch made on its latest day. */
function drawn(shop: Partial<Snapshot>, without: readonly string[] = []) {
  const { netted: plan } = netted(shop);
  const shelf = drawOnShelf(plan, (job: Job) =>
    without.includes(job.key) ? null : { day: job.latest, ready: job.latest + job.formula.restDays },
  );
  const told = (take: { taken: { key: string; quantity: number }[]; missing: number } | undefined): string =>
    take === undefined
      ? 'nothing'
      : [
          ...take.taken.map((t) => `${t.key} ${t.quantity}`),
          ...(take.missing > 0 ? [`missing ${take.missing}`] : []),
        ].join(', ');
  return {
    short: [...shelf.short].map((job) => job.key).sort(),
    batches: Object.fromEntries(
      plan.jobs.map((job) => [job.key, job.inputs.map((input) => told(shelf.inputs.get(input)))]),
    ),
    lines: Object.fromEntries(
      plan.lines.filter((row) => shelf.lines.has(row)).map((row) => [row.row.key, told(shelf.lines.get(row))]),
    ),
  };
}

describe('what is taken off the shelf', () => {
  it('is what expires first and is there on the day, whatever comes and is still good', () => {
    const { batches, short } = drawn({
      lots: [lot('L1', 'BOTTLE', 3, 40), lot('L2', 'BOTTLE', 3, 20), lot('L3', 'BOTTLE', 9, 6)],
      deliveries: [comes('D1', 'BOTTLE', 2, 6, 15), comes('D2', 'BOTTLE', 5, 8, 10)],
      lines: [ordered('o', 'A', 7, 7)],
    });
    // L3 is over by the 7th, D2 comes after it
    expect(batches).toEqual({ 'A/1': ['D1 2, L2 3, L1 2'] });
    expect(short).toEqual([]);
  });

  it('is taken when it is needed: packing waits for the rest', () => {
    const { netted: plan } = netted({ lines: [ordered('o', 'C', 1, 9)] });
    const [cap, box] = plan.jobs[0]!.inputs;
    expect([needDay(cap!, 100, 103), needDay(box!, 100, 103)]).toEqual([100, 103]);
    // made on the 6th and packed on the 9th: the box may come until then, the cap may not
    const shop = { lines: [ordered('o', 'C', 1, 9)], lots: [lot('L', 'CAP', 1)] };
    expect(drawn({ ...shop, deliveries: [comes('D', 'BOX', 1, 9)] }).batches).toEqual({ 'C/1': ['L 1', 'D 1'] });
    expect(drawn({ ...shop, deliveries: [comes('D', 'BOX', 1, 10)] }).short).toEqual(['C/1']);
    expect(drawn({ ...shop, lots: [lot('L', 'CAP', 1, 5)], deliveries: [comes('D', 'BOX', 1, 9)] }).short).toEqual([
      'C/1',
    ]);
  });

  it('goes to lines that sell it as it is, with the life they are owed', () => {
    const items = [
      ...bottled.items!.filter((row) => row.code !== 'BOX'),
      item('BOX', { measure: 'counted', owedLifeDays: 10 }),
    ];
    const shop = { items, lots: [lot('L1', 'BOX', 4, 14), lot('L2', 'BOX', 4, 15), lot('L3', 'BOX', 1, 40)] };
    expect(drawn({ ...shop, lines: [ordered('o', 'BOX', 6, 5)] }).lines).toEqual({ o: 'L2 4, L3 1, missing 1' });
    // due in the past: shipped today at the earliest
    expect(drawn({ ...shop, lines: [ordered('o', 'BOX', 6, -20)] }).lines).toEqual({ o: 'L1 4, L2 2' });
  });

  it('never is what comes from the tap, nor nothing', () => {
    const items = [...bottled.items!.slice(0, 3), item('TAP', { measure: 'counted', stocked: false }), product('A')];
    const formulas = [formula('A', [line(1, 'TAP', 'each', 5), line(2, 'BOTTLE', 'each', 1)])];
    const { batches, short } = drawn({
      items,
      formulas,
      lines: [ordered('o', 'A', 2, 7)],
      lots: [lot('L', 'BOTTLE', 2)],
    });
    expect([batches, short]).toEqual([{ 'A/1': ['nothing', 'L 2'] }, []]);
  });
});

describe('a batch that misses something', () => {
  it('gives the rest of its inputs back, and whoever can be served with them is', () => {
    // B is due first and has its bottles but no caps: A takes them
    const { batches, short } = drawn({
      lots: [lot('L', 'BOTTLE', 4)],
      lines: [ordered('b', 'B', 4, 5), ordered('a', 'A', 4, 9)],
    });
    expect(short).toEqual(['B/1']);
    // and shows what would have to be bought for it besides
    expect(batches).toEqual({ 'A/1': ['L 4'], 'B/1': ['missing 4', 'missing 4'] });
  });

  it('shows nothing of what it gave back and could still have', () => {
    const { batches, short } = drawn({ lots: [lot('L', 'BOTTLE', 5)], lines: [ordered('b', 'B', 4, 5)] });
    expect([batches, short]).toEqual([{ 'B/1': ['', 'missing 4'] }, ['B/1']]);
  });

  it('is tried in order of its day, and taken only whole', () => {
    // nine bottles: A wants 4 and 6; B, short of caps, gave 5 back
    const { batches, short } = drawn({
      lots: [lot('L', 'BOTTLE', 9)],
      lines: [ordered('b', 'B', 5, 5), ordered('a1', 'A', 4, 9), ordered('a2', 'A', 6, 20)],
    });
    expect(short).toEqual(['A/2', 'B/1']);
    // five are left: too few for A's six, and with caps B would have them
    expect(batches).toEqual({ 'A/1': ['L 4'], 'A/2': ['missing 6'], 'B/1': ['', 'missing 5'] });
  });

  it('takes everything made from it with it', () => {
    const items = [
      counted('BOTTLE'),
      counted('BOX'),
      product('A'),
      product('SET', { kind: 'set' }),
      product('GIFT', { kind: 'set' }),
    ];
    const formulas = [
      formula('A', [line(1, 'BOTTLE', 'each', 1)]),
      formula('SET', [line(1, 'A', 'each', 2, 'pack'), line(2, 'BOX', 'each', 1, 'pack')]),
      formula('GIFT', [line(1, 'SET', 'each', 1, 'pack')]),
    ];
    const shop = { items, formulas, lines: [ordered('g', 'GIFT', 1, 9)], lots: [lot('L', 'BOX', 1)] };
    expect(drawn(shop).short).toEqual(['A/1', 'GIFT/1', 'SET/1']);
    expect(drawn({ ...shop, lots: [...shop.lots, lot('B', 'BOTTLE', 2)] }).short).toEqual([]);
    // what misses its own input does not hold its source up
    expect(drawn({ ...shop, lots: [lot('B', 'BOTTLE', 2)] }).short).toEqual(['GIFT/1', 'SET/1']);
  });

  it('is one without a day too, which takes nothing', () => {
    const shop = { lots: [lot('L', 'BOTTLE', 4)], lines: [ordered('a', 'A', 4, 5)] };
    expect(drawn(shop, ['A/1'])).toEqual({ short: ['A/1'], batches: { 'A/1': ['nothing'] }, lines: {} });
  });

  it('is one made from an item nobody makes', () => {
    const items = [...bottled.items!, item('GEL', { kind: 'bulk' })];
    const formulas = [formula('A', [line(1, 'GEL', 'each', 5), line(2, 'BOTTLE', 'each', 1)])];
    const { short, batches } = drawn({
      items,
      formulas,
      lots: [lot('L', 'BOTTLE', 4)],
      lines: [ordered('a', 'A', 4, 5)],
    });
    expect(short).toEqual(['A/1']);
    expect(batches['A/1']).toEqual(['nothing', '']);
  });
});

describe('stock', () => {
  const kept = (target: number) => [
    ...bottled.items!.filter((row) => row.code !== 'A'),
    product('A', { policy: 'to-stock', target }),
  ];

  it('waits for what customers leave', () => {
    const shop = { items: kept(5), lots: [lot('L', 'BOTTLE', 7), lot('K', 'CAP', 4)] };
    const { batches, short } = drawn({ ...shop, lines: [ordered('b', 'B', 4, 30)] });
    expect(batches).toEqual({ 'A/1': ['missing 2'], 'B/1': ['L 4', 'K 4'] });
    expect(short).toEqual(['A/1']);
  });

  it('is served with what a customer’s batch gives back, after all customers', () => {
    const shop = { items: kept(5), lots: [lot('L', 'BOTTLE', 7)] };
    const { batches, short } = drawn({ ...shop, lines: [ordered('b', 'B', 4, 30)] });
    expect(short).toEqual(['B/1']);
    expect(batches).toEqual({ 'A/1': ['L 5'], 'B/1': ['missing 2', 'missing 4'] });
  });

  it('comes after customers in a batch made for both: nine of eleven, of 77, are 63', () => {
    const items = [counted('BOTTLE'), counted('BOX'), product('A'), product('P')];
    const formulas = [
      formula('A', [line(1, 'BOTTLE', 'each', 7)], { batchMin: 11 }),
      formula('P', [line(1, 'BOTTLE', 'each', 1)]),
    ];
    // A makes 11 for an order of 9 and wants 77 bottles: 63 for the order first, then P's one, then the other 14
    const shop = { items, formulas, lines: [ordered('a', 'A', 9, 5), ordered('p', 'P', 1, 9)] };
    const { batches } = drawn({ ...shop, lots: [lot('L', 'BOTTLE', 64, 30), lot('M', 'BOTTLE', 14, 8)] });
    expect(batches).toEqual({ 'A/1': ['M 14, L 63'], 'P/1': ['L 1'] });
  });
});

describe('the first day all bought inputs are there', () => {
  const from = (shop: Partial<Snapshot>) => {
    const { model, netted: plan } = netted(shop);
    const earliest = arrivals(model, plan);
    return Object.fromEntries(plan.jobs.map((job) => [job.key, earliest.get(job)!.earliest - dayOf(day(0))]));
  };

  it('is today where they lie on the shelf, else the day the last of them comes', () => {
    const lines = [ordered('a', 'A', 4, 9)];
    expect(from({ lines, lots: [lot('L', 'BOTTLE', 4)] })).toEqual({ 'A/1': 0 });
    const deliveries = [comes('D2', 'BOTTLE', 9, 12), comes('D1', 'BOTTLE', 2, 7)];
    expect(from({ lines, lots: [lot('L', 'BOTTLE', 2)], deliveries })).toEqual({ 'A/1': 7 });
    expect(from({ lines, lots: [lot('L', 'BOTTLE', 1)], deliveries })).toEqual({ 'A/1': 12 });
  });

  it('counts the days of receiving, and leaves out what would be over', () => {
    const workshop = { ...openShop({}).workshop, receivingDays: 2 };
    const lines = [ordered('a', 'A', 4, 9)];
    expect(from({ workshop, lines, deliveries: [comes('D', 'BOTTLE', 4, 5)] })).toEqual({ 'A/1': 7 });
    const deliveries = [comes('D', 'BOTTLE', 4, 12)];
    expect(from({ lines, lots: [lot('L', 'BOTTLE', 4, 8)], deliveries })).toEqual({ 'A/1': 12 });
    expect(from({ lines, lots: [lot('L', 'BOTTLE', 4, 9)], deliveries })).toEqual({ 'A/1': 0 });
    // a delivery must be good when it comes
    expect(from({ lines, deliveries: [comes('D', 'BOTTLE', 4, 12, 11), comes('E', 'BOTTLE', 4, 14, 14)] })).toEqual({
      'A/1': 14,
    });
  });

  it('does not wait for what no delivery brings', () => {
    expect(from({ lines: [ordered('a', 'A', 4, 9)], deliveries: [comes('D', 'BOTTLE', 3, 12)] })).toEqual({ 'A/1': 0 });
  });

  it('gives what comes first to the batch that is due first, orders before stock', () => {
    const deliveries = [comes('D1', 'BOTTLE', 4, 3), comes('D2', 'BOTTLE', 4, 6)];
    expect(from({ deliveries, lines: [ordered('x', 'A', 4, 30), ordered('y', 'A', 4, 20)] })).toEqual({
      'A/1': 3,
      'A/2': 6,
    });
    const items = [
      ...bottled.items!.filter((row) => row.code !== 'B'),
      product('B', { policy: 'to-stock', target: 4 }),
    ];
    const formulas = [bottled.formulas![0]!, formula('B', [line(1, 'BOTTLE', 'each', 1)])];
    expect(from({ items, formulas, deliveries, lines: [ordered('x', 'A', 4, 30)] })).toEqual({ 'A/1': 3, 'B/1': 6 });
  });

  it('lets what is packed come while it rests', () => {
    const lines = [ordered('c', 'C', 1, 30)];
    const lots = [lot('L', 'CAP', 1)];
    expect(from({ lines, lots, deliveries: [comes('D', 'BOX', 1, 10)] })).toEqual({ 'C/1': 7 });
    expect(from({ lines, lots, deliveries: [comes('D', 'BOX', 1, 2)] })).toEqual({ 'C/1': 0 });
    expect(from({ lines, deliveries: [comes('D', 'BOX', 1, 10), comes('E', 'CAP', 1, 9)] })).toEqual({ 'C/1': 9 });
  });

  it('is no earlier than a batch in the making that it draws from', () => {
    const items = [counted('BOX'), product('A'), product('SET', { kind: 'set' })];
    const formulas = [formula('SET', [line(1, 'A', 'each', 1, 'make'), line(2, 'BOX', 'each', 1, 'pack')])];
    const making = [
      {
        code: 'M',
        item: 'A',
        free: 5,
        day: day(0),
        readyOn: day(8),
        emptiedOn: day(8),
        vessel: null,
        minutes: 0,
        expiresOn: null,
      },
    ];
    expect(from({ items, formulas, making, lots: [lot('L', 'BOX', 5)], lines: [ordered('s', 'SET', 5, 20)] })).toEqual({
      'SET/1': 8,
    });
  });
});

it('takes no more than is free and says what is missing, whatever is ordered', () => {
  const shops = fc.record({
    lots: fc.array(
      fc.record({
        of: fc.constantFrom('BOTTLE', 'CAP', 'BOX'),
        free: fc.integer({ min: 1, max: 9 }),
        expires: fc.option(fc.integer({ min: 0, max: 30 })),
      }),
      { maxLength: 8 },
    ),
    lines: fc.array(
      fc.record({
        of: fc.constantFrom('A', 'B', 'C', 'BOX'),
        quantity: fc.integer({ min: 1, max: 9 }),
        due: fc.integer({ min: -2, max: 30 }),
      }),
      { maxLength: 8 },
    ),
  });
  fc.assert(
    fc.property(shops, ({ lots, lines }) => {
      const rows = lots.map(({ of, free, expires }, at) => lot(`L${at}`, of, free, expires));
      const { model, netted: plan } = netted({
        lots: rows,
        lines: lines.map(({ of, quantity, due }, at) => ordered(`o${at}`, of, quantity, due)),
      });
      const shelf = drawOnShelf(plan, (job) => ({
        day: Math.max(job.latest, model.start),
        ready: job.latest + 3,
      }));
      const left = new Map(rows.map((row) => [row.code, row.free]));
      for (const take of [...shelf.inputs.values(), ...shelf.lines.values()])
        for (const { key, quantity } of take.taken) left.set(key, left.get(key)! - quantity);
      expect(Math.min(0, ...left.values())).toBe(0);
      for (const job of plan.jobs) {
        const takes = job.inputs.map((input) => ({ input, take: shelf.inputs.get(input)! }));
        const isShort = shelf.short.has(job);
        for (const { input, take } of takes) {
          const taken = take.taken.reduce((sum, t) => sum + t.quantity, 0);
          expect(taken + (isShort ? 0 : take.missing)).toBe(isShort ? 0 : input.quantity);
        }
        // none is short of nothing: what was given back and is left would have served it
        if (isShort) expect(takes.some(({ take }) => take.missing > 0)).toBe(true);
      }
    }),
  );
});
