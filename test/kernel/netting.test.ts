import { describe, expect, it } from 'vitest';
import { isoOf } from '../../src/kernel/measure/day.js';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';
import type { Job } from '../../src/kernel/plan/job.js';
import type { Netted } from '../../src/kernel/plan/netting.js';
import type { Snapshot, SnapshotItem } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

const batches = ({ jobs }: Netted) => jobs.map((job) => `${job.key} ${job.output} on ${isoOf(job.latest)}`);
const pegs = (job: Job) =>
  job.pegs.map((peg) => `${peg.line?.row.key ?? peg.job?.key ?? 'stock'} ${peg.quantity}`).join(', ');

describe('what covers an order line', () => {
  const soap = (rest: Partial<Snapshot>, about: Partial<SnapshotItem> = {}, workshop = {}) =>
    netOf(
      openShop(
        {
          items: [product('SOAP', about), item('OIL')],
          formulas: [formula('SOAP', [line(1, 'OIL', 'each', 1_000)], { restDays: 10 })],
          ...rest,
        },
        workshop,
      ),
    ).netted;
  const making = (code: string, free: number, ready: number) => beingMade('SOAP', free, ready, { code });
  const taken = ({ lines }: Netted) =>
    lines.map((row) => [row.row.key, ...row.taken.map((t) => `${t.from} ${t.key} ${t.quantity}`)].join(': '));

  it('are lots that keep as long as the customer is owed, the first to expire first, the first line to ship first', () => {
    const lots = [lot('L1', 'SOAP', 3, 49), lot('L2', 'SOAP', 3, 60), lot('L3', 'SOAP', 3, 50)];
    const netted = soap(
      { lots, lines: [ordered('b', 'SOAP', 4, 20), ordered('a', 'SOAP', 4, 20)] },
      { owedLifeDays: 30 },
    );
    expect(taken(netted)).toEqual(['a: lot L3 3: lot L2 1', 'b: lot L2 2']);
    expect(batches(netted)).toEqual([`SOAP/1 2 on ${day(10)}`]);
  });

  it('counts from today what should have shipped before', () => {
    const lots = [lot('L1', 'SOAP', 3, 29), lot('L2', 'SOAP', 3, 30)];
    expect(taken(soap({ lots, lines: [ordered('a', 'SOAP', 4, -20)] }, { owedLifeDays: 30 }))).toEqual(['a: lot L2 3']);
  });

  it('are deliveries once they are received, unless their day is past', () => {
    const comes = (key: string, on: number) => ({ key, item: 'SOAP', free: 4, day: day(on), expiresOn: null });
    const of = (on: number, due: number) =>
      taken(soap({ deliveries: [comes('D', on)], lines: [ordered('a', 'SOAP', 4, due)] }, {}, { receivingDays: 2 }));
    expect(of(18, 20)).toEqual(['a: delivery D 4']);
    expect(of(19, 20)).toEqual(['a']);
    expect(of(0, 20)).toEqual(['a: delivery D 4']);
    expect(of(-1, 20)).toEqual(['a']);
  });

  it('are batches in the making, late ones too where a new batch would be no earlier', () => {
    const netted = soap({ making: [making('M1', 4, 10), making('M2', 4, 11)], lines: [ordered('a', 'SOAP', 9, 3)] });
    expect(taken(netted)).toEqual(['a: making M1 4']);
    expect(netted.lines[0]!.fromMaking.map(({ key }) => key)).toEqual(['M1']);
    expect(batches(netted)).toEqual([`SOAP/1 5 on ${day(-7)}`]);
  });

  it('is nothing where nobody can make it, or it is bought and still to be drawn', () => {
    const items = [product('SOAP'), item('OIL')];
    const netted = soap({ items, formulas: [], lots: [lot('L', 'SOAP', 1)], lines: [ordered('a', 'SOAP', 3, 20)] });
    expect(netted.lines[0]).toMatchObject({ missing: 2, fromShelf: 0, fromJobs: [] });
    const bought = soap({ lots: [lot('L', 'OIL', 1)], lines: [ordered('a', 'OIL', 3, 20)] });
    expect(bought.lines[0]).toMatchObject({ missing: 0, fromShelf: 3, taken: [] });
    expect(bought.jobs).toEqual([]);
  });

  it('leaves out what is used up', () => {
    const netted = soap({ lots: [lot('L1', 'SOAP', 0), lot('L2', 'SOAP', 2)] });
    expect(netted.pool.get('SOAP')!.map(({ key }) => key)).toEqual(['L2']);
  });
});

describe('the latest day to start', () => {
  const spray = (lines: Snapshot['lines'], workshop = {}) =>
    netOf(
      openShop(
        {
          items: [product('SPRAY'), bulk('BLK'), item('OIL')],
          formulas: [
            formula('SPRAY', [line(1, 'BLK', 'each', 1_000, 'fill')], { restDays: 2 }),
            formula('BLK', [line(1, 'OIL', 'part', PPB_ONE)], { restDays: 10 }),
          ],
          lines,
        },
        workshop,
      ),
    ).netted;

  it('leaves rest and slack, through every level, on an open day', () => {
    expect(batches(spray([ordered('a', 'SPRAY', 5, 40)], { slackDays: 3 }))).toEqual([
      `SPRAY/1 5 on ${day(35)}`,
      `BLK/1 5000 on ${day(25)}`,
    ]);
    // day 40 is a Saturday; a week without Sundays and Saturdays starts on Thursday the 38th less 10, a Thursday
    const weekdays = { benchMinutes: [480, 480, 480, 480, 480, 0, 0] };
    expect(batches(spray([ordered('a', 'SPRAY', 5, 43)], weekdays))).toEqual([
      `SPRAY/1 5 on ${day(39)}`,
      `BLK/1 5000 on ${day(29)}`,
    ]);
  });
});

describe('stock', () => {
  const kept = (about: Partial<SnapshotItem>, rest: Partial<Snapshot> = {}, noRefill: string[] = []) =>
    netOf(
      openShop({
        items: [product('SOAP', { policy: 'to-stock', target: 10, ...about }), item('OIL')],
        formulas: [formula('SOAP', [line(1, 'OIL', 'each', 1_000)], { restDays: 10 })],
        ...rest,
      }),
      noRefill,
    ).netted;

  it('is brought up to its target with what will be left at the end of the week', () => {
    expect(batches(kept({}))).toEqual([`SOAP/1 10 on ${day(0)}`]);
    const lots = [lot('L1', 'SOAP', 3, 6), lot('L2', 'SOAP', 3, 5), lot('L3', 'SOAP', 2)];
    const netted = kept({}, { lots });
    expect(batches(netted)).toEqual([`SOAP/1 5 on ${day(0)}`]);
    expect(netted.refilled).toEqual(new Set(['SOAP']));
    expect(pegs(netted.jobs[0]!)).toBe('stock 5');
    expect(kept({}, { lots: [lot('L', 'SOAP', 10)] }).refilled.size).toBe(0);
    expect(kept({}, { lots: [lot('L', 'SOAP', 12)] }).jobs).toEqual([]);
  });

  it('counts what orders and other batches take away', () => {
    const lots = [lot('L', 'SOAP', 10)];
    expect(batches(kept({}, { lots, lines: [ordered('a', 'SOAP', 4, 2)] }))).toEqual([`SOAP/1 4 on ${day(0)}`]);
    const set = {
      items: [product('SOAP', { policy: 'to-stock', target: 10 }), item('OIL'), product('SET')],
      formulas: [
        formula('SOAP', [line(1, 'OIL', 'each', 1_000)], { restDays: 10 }),
        formula('SET', [line(1, 'SOAP', 'each', 3, 'pack')]),
      ],
      lots,
      lines: [ordered('a', 'SET', 2, 20)],
    };
    const netted = kept({}, set);
    expect(batches(netted)).toEqual([`SET/1 2 on ${day(20)}`, `SOAP/1 6 on ${day(0)}`]);
    expect(netted.jobs[0]!.inputs[0]).toMatchObject({ fromShelf: 6, fromJobs: [], missing: 0 });
    expect(netted.pool.get('SOAP')).toMatchObject([{ quantity: 10, spokenFor: 6 }]);
  });

  it('is none of what is made to order, given up, or left out', () => {
    expect(kept({ policy: 'to-order' }).jobs).toEqual([]);
    expect(kept({ policy: 'discontinued' }).jobs).toEqual([]);
    const without = kept({}, {}, ['SOAP']);
    expect([without.jobs, without.refilled.size]).toEqual([[], 0]);
  });

  it('of a season starts as long before as it takes to make and ends with it', () => {
    const season = (from: number, to: number) =>
      kept({ policy: 'seasonal', seasonFrom: day(from), seasonTo: day(to) }).jobs.length;
    // the week ends on day 6, a batch takes ten
    expect([season(16, 60), season(17, 60), season(-60, 0), season(-60, -1)]).toEqual([1, 0, 1, 0]);
  });

  it('shares a batch with orders, which come first in it', () => {
    const netted = kept({}, { lines: [ordered('a', 'SOAP', 4, 12)] });
    expect(netted.jobs.map((job) => [job.tier, job.forOrders, pegs(job)])).toEqual([[0, 4, 'a 4, stock 10']]);
  });

  it('has the rest of a batch that must be larger, in one peg with its target', () => {
    const formulas = [formula('SOAP', [line(1, 'OIL', 'each', 1_000)], { batchMin: 30 })];
    const netted = kept({}, { formulas, lines: [ordered('a', 'SOAP', 4, 2)] });
    expect(netted.jobs.map(pegs)).toEqual(['a 4, stock 26']);
  });
});

describe('how a batch draws from another', () => {
  const drawn = (
    base: Partial<Snapshot['formulas'][number]>,
    mix: Partial<Snapshot['formulas'][number]> = {},
    rest: Partial<Snapshot> = {},
  ) =>
    netOf(
      openShop({
        items: [product('SPRAY'), bulk('MIX'), bulk('BASE'), item('OIL')],
        formulas: [
          formula('SPRAY', [line(1, 'MIX', 'each', 1_000, 'fill')]),
          formula('MIX', [line(1, 'BASE', 'part', PPB_ONE)], mix),
          formula('BASE', [line(1, 'OIL', 'part', PPB_ONE)], base),
        ],
        vessels: [{ code: 'POT', kind: 'pot', capacityMg: 50_000 }],
        lines: [ordered('a', 'SPRAY', 20, 40)],
        ...rest,
      }),
    ).netted;
  const links = ({ jobs }: Netted) =>
    jobs.flatMap((job) =>
      job.sources.map((source) => `${job.key} from ${source.job.key}${source.held ? ' held' : ''}`),
    );
  const pot = { vesselKind: 'pot', restDays: 2 };

  it('holds its vessel, unless it has none or is decanted at once', () => {
    expect(links(drawn(pot, pot))).toEqual(['SPRAY/1 from MIX/1 held', 'MIX/1 from BASE/1 held']);
    expect(links(drawn({}, {}))).toEqual(['SPRAY/1 from MIX/1', 'MIX/1 from BASE/1']);
    // a base that need not rest is decanted for another bulk, but a filling is drawn from where it stands
    const now = { vesselKind: 'pot', restDays: 0 };
    expect(links(drawn(now, now))).toEqual(['SPRAY/1 from MIX/1 held', 'MIX/1 from BASE/1']);
  });

  it('knows its consumers as they know their sources', () => {
    const { jobs } = drawn(pot, pot);
    for (const job of jobs)
      for (const { job: source, held, after } of job.sources)
        expect(source.consumers).toContainEqual({ job, held, after });
    expect(jobs.map((job) => job.consumers.length)).toEqual([0, 1, 1]);
    expect(jobs.map(pegs)).toEqual(['a 20', 'SPRAY/1 20000', 'MIX/1 20000']);
    expect(jobs[0]!.inputs[0]!.fromJobs).toEqual([{ job: jobs[1], quantity: 20_000 }]);
  });

  it('is decanted from what an earlier week leaves over', () => {
    const lines = [ordered('a', 'SPRAY', 20, 40), ordered('b', 'SPRAY', 20, 60)];
    expect(links(drawn({}, { ...pot, batchMin: 40_000 }, { lines }))).toEqual([
      'SPRAY/1 from MIX/1 held',
      'SPRAY/2 from MIX/1',
      'MIX/1 from BASE/1',
    ]);
  });

  it('fills from one pour each, no larger than its vessel', () => {
    const lines = [ordered('a', 'SPRAY', 60, 40)];
    const { jobs } = drawn({}, pot, { lines });
    expect(jobs.filter((job) => job.item.code === 'SPRAY').map((job) => job.output)).toEqual([50, 10]);
    expect(jobs.filter((job) => job.item.code === 'SPRAY').map((job) => job.sources.length)).toEqual([1, 1]);
  });

  it('takes for orders what its consumer makes for them', () => {
    const formulas = [
      formula('SPRAY', [line(1, 'MIX', 'each', 7, 'fill')], { batchMin: 11 }),
      formula('MIX', [line(1, 'OIL', 'part', PPB_ONE)]),
    ];
    const { jobs } = drawn({}, {}, { formulas, lines: [ordered('a', 'SPRAY', 9, 40)] });
    // 77 mg for eleven, of which nine are ordered: 63, and not the 64 a float says
    expect(jobs.map((job) => [job.key, job.output, job.forOrders, pegs(job)])).toEqual([
      ['SPRAY/1', 11, 9, 'a 9, stock 2'],
      ['MIX/1', 77, 63, 'SPRAY/1 77'],
    ]);
  });

  it('draws on a batch in the making, or on lots once its day is settled', () => {
    const making = [beingMade('MIX', 3_000, 1)];
    const { jobs } = drawn({}, {}, { making, lots: [lot('L', 'MIX', 5_000)] });
    const [input] = jobs[0]!.inputs;
    expect(input).toMatchObject({ quantity: 20_000, fromShelf: 5_000, missing: 0 });
    expect(input!.fromMaking.map(({ supply, quantity }) => [supply.key, quantity])).toEqual([['M', 3_000]]);
    expect(input!.fromJobs.map(({ job, quantity }) => [job.key, quantity])).toEqual([['MIX/1', 12_000]]);
  });

  it('misses what nobody can make', () => {
    const { jobs } = drawn({}, {}, { formulas: [formula('SPRAY', [line(1, 'MIX', 'each', 1_000, 'fill')])] });
    expect(jobs[0]!.inputs[0]).toMatchObject({ missing: 20_000, fromShelf: 0, fromJobs: [] });
  });
});

it('writes down a batch with its sheet: lines of nothing left out, light ones told, minutes by batch and unit', () => {
  const { netted } = netOf(
    openShop(
      {
        items: [product('SPRAY'), item('OIL'), item('DYE'), counted('BOTTLE')],
        formulas: [
          formula(
            'SPRAY',
            [
              line(3, 'OIL', 'each', 300),
              line(5, 'DYE', 'fixed', 0),
              line(7, 'BOTTLE', 'each', 1, 'fill'),
              line(9, 'DYE', 'part', PPB_ONE),
            ],
            { minutesBatch: 15, secondsUnit: 45 },
          ),
        ],
        lines: [ordered('a', 'SPRAY', 5, 40)],
      },
      { scaleLeastMg: 500 },
    ),
  );
  expect(netted.jobs).toMatchObject([
    {
      key: 'SPRAY/1',
      output: 5,
      putInMg: 1_505,
      minutes: 19,
      tier: 0,
      inputs: [
        { position: 3, step: 'make', quantity: 1_500, belowScale: false },
        { position: 7, step: 'fill', quantity: 5, belowScale: false },
        { position: 9, step: 'make', quantity: 5, belowScale: true },
      ],
    },
  ]);
});
