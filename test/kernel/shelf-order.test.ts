import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import type { Job } from '../../src/kernel/plan/job.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net, NOTHING_LEARNED } from '../../src/kernel/plan/netting.js';
import { arrivals, arrivalsAsGiven } from '../../src/kernel/plan/arrival.js';
import { drawOnShelf, wantedOn } from '../../src/kernel/plan/shelf.js';
import type { Snapshot, SnapshotMaking } from '../../src/kernel/plan/snapshot.js';
import { beingMade, comes, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

const making = (code: string, of: string, free: number, ready: number, expires: number | null = null): SnapshotMaking =>
  beingMade(of, free, ready, { code, day: day(0), expiresOn: expires === null ? null : day(expires) });
const today = dayOf(day(0));

/** A takes a bottle, B a bottle and a cap, C a cap and, packed after three days, a box; the set packs an A and a box. */
function shop({ apart = [], on = {}, ...rest }: Partial<Snapshot> & { apart?: string[]; on?: Record<string, number> }) {
  const snapshot = openShop({
    items: [...['BOTTLE', 'CAP', 'BOX'].map(counted), ...['A', 'B', 'C', 'SET', 'GIFT'].map((code) => product(code))],
    formulas: [
      formula('A', [line(1, 'BOTTLE', 'each', 1)]),
      formula('B', [line(1, 'BOTTLE', 'each', 1), line(2, 'CAP', 'each', 1)]),
      formula('C', [line(1, 'CAP', 'each', 1), line(2, 'BOX', 'each', 1, 'pack')], { restDays: 3 }),
      formula('SET', [line(1, 'A', 'each', 1, 'pack'), line(2, 'BOX', 'each', 1, 'pack')]),
      formula('GIFT', [line(1, 'SET', 'each', 1, 'pack')]),
    ],
    ...rest,
  });
  const model = buildModel(snapshot);
  const netted = net(model, new Set(), { ...NOTHING_LEARNED, apart: new Set(apart) });
  // each batch on its latest day, or where it is said
  const shelf = drawOnShelf(netted, (job: Job) => {
    const at = on[job.key] === undefined ? job.latest : today + on[job.key]!;
    return { day: at, ready: at + job.formula.restDays };
  });
  const told = (take: { taken: { from: string; key: string; quantity: number }[]; missing: number } | undefined) =>
    take === undefined
      ? 'nothing'
      : [
          ...take.taken.map((t) => `${t.from} ${t.key} ${t.quantity}`),
          ...(take.missing ? [`missing ${take.missing}`] : []),
        ].join(', ');
  return {
    model,
    netted,
    shelf,
    short: [...shelf.short].map(({ key }) => key).sort(),
    batches: Object.fromEntries(
      netted.jobs.map((job) => [job.key, job.inputs.map((input) => told(shelf.inputs.get(input)))]),
    ),
    lines: Object.fromEntries(netted.lines.map((one) => [one.row.key, told(shelf.lines.get(one))])),
  };
}
const arrived = (of: ReturnType<typeof arrivals>) =>
  Object.fromEntries([...of].map(([job, { earliest, waitsFor }]) => [job.key, `${waitsFor} ${earliest - today}`]));

describe('the day an input is wanted', () => {
  const { model, netted } = shop({ lines: [ordered('c', 'C', 1, 9)] });
  const [job] = netted.jobs;
  const [cap, box] = job!.inputs;
  const at = { day: today + 20, ready: today + 23 };

  it('is that of its batch, packing after the rest', () => {
    expect([cap!, box!].map((input) => wantedOn(model, job!, input, at, false) - today)).toEqual([20, 23]);
  });

  it('is the day on which its batch would be in time, where that has no day or lacks something', () => {
    expect([cap!, box!].map((input) => wantedOn(model, job!, input, null, false) - today)).toEqual([6, 9]);
    expect([cap!, box!].map((input) => wantedOn(model, job!, input, at, true) - today)).toEqual([6, 9]);
    expect(wantedOn(model, { ...job!, begins: today + 8 }, cap!, null, true) - today).toBe(8);
    // of stock it is the day it has
    expect(wantedOn(model, { ...job!, tier: 1 }, cap!, at, true) - today).toBe(20);
  });
});

describe('what comes too late for its line', () => {
  const boxes = (rest: Partial<Snapshot>, owedLifeDays = 0) =>
    shop({ items: [item('BOX', { measure: 'counted', owedLifeDays })], formulas: [], ...rest }).lines;

  it('is sent late, what comes first before what expires first, and no more than is wanted', () => {
    const deliveries = [comes('D', 'BOX', 4, 12, 90), comes('E', 'BOX', 4, 9, 99)];
    expect(boxes({ deliveries, lines: [ordered('o', 'BOX', 5, 7)] })).toEqual({ o: 'delivery E 4, delivery D 1' });
    expect(boxes({ deliveries, lines: [ordered('o', 'BOX', 3, 7), ordered('p', 'BOX', 3, 7)] })).toEqual({
      o: 'delivery E 3',
      p: 'delivery E 1, delivery D 2',
    });
    expect(boxes({ deliveries, lines: [ordered('o', 'BOX', 9, 7)] })).toEqual({
      o: 'delivery E 4, delivery D 4, missing 1',
    });
  });

  it('is not what somebody else has all of', () => {
    const deliveries = [comes('D', 'BOTTLE', 1, 5)];
    const { lines } = shop({ deliveries, lines: [ordered('p', 'BOTTLE', 1, 2), ordered('q', 'BOTTLE', 1, 6)] });
    expect(lines).toEqual({ p: 'missing 1', q: 'delivery D 1' });
  });

  it('is sent so though another line has all it wants', () => {
    const lots = [lot('L', 'BOX', 2)];
    const lines = [ordered('o', 'BOX', 2, 7), ordered('p', 'BOX', 2, 8)];
    expect(boxes({ lots, lines, deliveries: [comes('D', 'BOX', 2, 9)] })).toEqual({ o: 'lot L 2', p: 'delivery D 2' });
  });

  it('has the life that is owed from the day it comes', () => {
    const lines = [ordered('o', 'BOX', 1, 7)];
    expect(boxes({ lines, deliveries: [comes('D', 'BOX', 1, 12, 21)] }, 10)).toEqual({ o: 'missing 1' });
    expect(boxes({ lines, deliveries: [comes('D', 'BOX', 1, 12, 22)] }, 10)).toEqual({ o: 'delivery D 1' });
    // what comes in time and is over too soon does not come late either
    expect(boxes({ lines, deliveries: [comes('D', 'BOX', 1, 7, 16)] }, 10)).toEqual({ o: 'missing 1' });
  });
});

describe('what is taken', () => {
  it('is told apart by what it is and what it is called', () => {
    const lots = [lot('X', 'BOTTLE', 2, 40)];
    const deliveries = [comes('X', 'BOTTLE', 2, 3, 50)];
    const { batches } = shop({ lots, deliveries, lines: [ordered('a', 'A', 4, 9)] });
    expect(batches).toEqual({ 'A/1': ['lot X 2, delivery X 2'] });
    // what the one leaves is what another may have
    const two = shop({ lots, deliveries, lines: [ordered('a', 'A', 2, 1), ordered('b', 'B', 2, 9)] });
    expect(two.batches).toEqual({ 'A/1': ['lot X 2'], 'B/1': ['', 'missing 2'] });
  });

  it('is not what is in the making, though that expires first', () => {
    // the set of day 2 was promised the lot; made on day 9 it still has it
    const lines = [ordered('s', 'SET', 3, 2), ordered('t', 'SET', 3, 20)];
    const inMaking = [making('M', 'A', 5, 8, 30)];
    const { batches } = shop({
      lots: [lot('L', 'A', 3), lot('X', 'BOX', 6)],
      making: inMaking,
      lines,
      on: { 'SET/1': 9 },
    });
    expect(batches['SET/1']).toEqual(['lot L 3', 'lot X 3']);
    expect(batches['SET/2']).toEqual(['nothing', 'lot X 3']);
  });

  it('goes to those whose lines are not to go without, whoever is due first', () => {
    const lines = [ordered('x', 'A', 4, 5), ordered('y', 'A', 4, 20)];
    expect(shop({ lots: [lot('L', 'BOTTLE', 4)], lines }).short).toEqual(['A/2']);
    const { batches } = shop({ lots: [lot('L', 'BOTTLE', 4)], lines, apart: ['x'] });
    expect(batches).toEqual({ 'A/1': ['lot L 4'], 'A/2': ['missing 4'] });
  });

  it('when it is given back goes first into what others are made from', () => {
    // B has the bottles first and no caps; with them the A, the set and the gift of it can be made on one day
    const lines = [ordered('b', 'B', 2, 5), ordered('g', 'GIFT', 2, 9)];
    const { short, batches } = shop({ lots: [lot('L', 'BOTTLE', 2), lot('X', 'BOX', 2)], lines });
    expect(short).toEqual(['B/1']);
    expect(batches).toMatchObject({ 'A/1': ['lot L 2'], 'SET/1': ['nothing', 'lot X 2'], 'GIFT/1': ['nothing'] });
  });
});

describe('the first day all of it is there', () => {
  it('is that of what comes first for the batch that is due first, whatever it is called', () => {
    const deliveries = [comes('D1', 'BOTTLE', 4, 3), comes('D2', 'BOTTLE', 4, 6)];
    const lots = [lot('K', 'CAP', 4)];
    const rows = { deliveries, lots, lines: [ordered('a', 'A', 4, 30), ordered('b', 'B', 4, 20)] };
    const { model, netted } = shop(rows);
    expect(arrived(arrivals(model, netted))).toEqual({ 'A/1': 'delivery 6', 'B/1': 'delivery 3' });
    const apart = shop({ ...rows, apart: ['b'] });
    expect(arrived(arrivals(apart.model, apart.netted))).toEqual({ 'A/1': 'delivery 3', 'B/1': 'delivery 6' });
    const there = shop({ lots: [lot('L', 'BOTTLE', 4)], lines: [ordered('a', 'A', 4, 30)] });
    expect(arrived(arrivals(there.model, there.netted))).toEqual({ 'A/1': 'delivery 0' });
  });

  it('is sooner by its rest for what is packed out of the making, and ends as much sooner', () => {
    const formulas = [formula('SET', [line(1, 'A', 'each', 1, 'pack')], { restDays: 3 })];
    const { model, netted } = shop({
      formulas,
      making: [making('M', 'A', 5, 8, 30)],
      lines: [ordered('s', 'SET', 5, 20)],
    });
    const [arrival] = arrivals(model, netted).values();
    expect(arrival).toEqual({ earliest: today + 5, waitsFor: 'source', goodUntil: today + 27 });
  });
});

describe('the first day of what was given', () => {
  const given = (rest: Parameters<typeof shop>[0]) => {
    const { model, netted, shelf } = shop(rest);
    const lacking = new Set(shelf.short);
    const days = arrived(arrivalsAsGiven(model, { netted, shelf }, lacking));
    return { days, lacking: [...lacking].map(({ key }) => key) };
  };

  it('is the last day on which any of it comes', () => {
    const deliveries = [comes('D', 'BOTTLE', 2, 3), comes('E', 'BOTTLE', 9, 6)];
    const lots = [lot('L', 'BOTTLE', 2, 40), lot('K', 'CAP', 9)];
    const lines = [ordered('a', 'A', 3, 9), ordered('b', 'B', 1, 1)];
    // B has one of the lot; A the other, and of what comes the last that is in time
    expect(given({ lots, deliveries, lines })).toEqual({
      days: { 'A/1': 'delivery 6', 'B/1': 'delivery 0' },
      lacking: [],
    });
  });

  it('is told apart by what it is and what it is called', () => {
    const lots = [lot('X', 'BOTTLE', 2, 40)];
    const deliveries = [comes('X', 'BOTTLE', 2, 3, 50), comes('Y', 'BOTTLE', 2, 5, 60)];
    const days = (quantity: number) => given({ lots, deliveries, lines: [ordered('a', 'A', quantity, 9)] }).days['A/1'];
    expect([days(2), days(4), days(6)]).toEqual(['delivery 0', 'delivery 3', 'delivery 5']);
  });

  it('is for what lacks something the day on which enough is left, and then it lacks nothing', () => {
    const lots = [lot('L', 'BOTTLE', 9)];
    const lines = [ordered('b', 'B', 4, 5)];
    const enough = [comes('D', 'CAP', 3, 12, 30), comes('E', 'CAP', 2, 9, 90)];
    expect(given({ lots, lines, deliveries: enough })).toEqual({ days: { 'B/1': 'delivery 12' }, lacking: [] });
    const just = [comes('D', 'CAP', 4, 12, 30), comes('E', 'CAP', 4, 9, 90)];
    expect(given({ lots, lines, deliveries: just })).toEqual({ days: { 'B/1': 'delivery 9' }, lacking: [] });
    const few = [comes('D', 'CAP', 1, 12), comes('E', 'CAP', 2, 9)];
    expect(given({ lots, lines, deliveries: few })).toEqual({ days: { 'B/1': 'delivery 0' }, lacking: ['B/1'] });
    expect(given({ lots: [lot('L', 'BOTTLE', 3)], lines, deliveries: just }).lacking).toEqual(['B/1']);
  });

  it('is never for what nobody makes, and does not ask for what is always there', () => {
    const items = [counted('BOTTLE'), item('TAP', { stocked: false }), product('A'), product('GEL')];
    const deliveries = [comes('D', 'BOTTLE', 9, 12)];
    const lines = [ordered('a', 'A', 2, 5)];
    const tapped = formula('A', [line(1, 'BOTTLE', 'each', 1), line(2, 'TAP', 'each', 5)]);
    expect(given({ items, formulas: [tapped], deliveries, lines })).toEqual({
      days: { 'A/1': 'delivery 12' },
      lacking: [],
    });
    const gelled = formula('A', [line(1, 'BOTTLE', 'each', 1), line(2, 'GEL', 'each', 1)]);
    expect(given({ items, formulas: [gelled], deliveries, lines }).lacking).toEqual(['A/1']);
  });
});
