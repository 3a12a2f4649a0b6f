import { beforeAll, describe, expect, it } from 'vitest';
import type { FormulaSummary, FormulaView, Solution } from '../../src/catalog/formulas.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';

const app = useTestApp();

interface Problem {
  status: number;
  code: string;
  detail: string;
  errors: { pointer: string; detail: string; code: string }[];
  items?: string[];
}

const post = <Body = Problem>(url: string, body: unknown) => app.request<Body>('POST', url, body);
const pointersOf = (body: Problem) => body.errors.map((error) => error.pointer);

const SPRAY = [
  { item: 'BASE', basis: 'qs', isBase: true },
  { item: 'FO', basis: 'load', amount: '5 %' },
];

beforeAll(async () => {
  const items: [string, string, string, string?][] = [
    ['WATER', 'material', 'weighed', '0.998 g/ml'],
    ['ALCOHOL', 'material', 'weighed', '0.81 g/ml'],
    ['HYDROSOL', 'material', 'weighed'],
    ['SOLUB', 'material', 'weighed'],
    ['PRESERV', 'material', 'weighed'],
    ['FO', 'material', 'weighed'],
    ['BOTTLE', 'material', 'counted'],
    ['BASE', 'bulk', 'weighed', '0.84 g/ml'],
    ['BULK', 'bulk', 'weighed', '0.85 g/ml'],
    ['PRODUCT', 'product', 'counted'],
    ['SET', 'set', 'counted'],
  ];
  for (const [code, kind, measure, density] of items)
    await post('/api/items', { code, name: code, kind, measure, density });
});

describe('POST /api/formulas/solve', () => {
  it('counts a load on the base, not on the total', async () => {
    const { status, body } = await post<Solution>('/api/formulas/solve', { lines: SPRAY });
    expect(status).toBe(200);
    // 5 % load is 1/21 of the whole: arithmetic
    expect(body.lines).toEqual([
      { line: 1, item: 'BASE', partPpb: 952_380_952, percent: '95.2380952 %' },
      { line: 2, item: 'FO', partPpb: 47_619_048, percent: '4.7619048 %' },
    ]);
  });

  it('solves a base from scratch with water up to 100 %, and solubiliser as much as fragrance', async () => {
    const { body } = await post<Solution>('/api/formulas/solve', {
      lines: [
        { item: 'ALCOHOL', basis: 'share', amount: '20 %' },
        { item: 'HYDROSOL', basis: 'share', amount: 100_000_000 },
        { item: 'PRESERV', basis: 'share', amount: '0.8' },
        { item: 'FO', basis: 'share', amount: '2 %' },
        { item: 'SOLUB', basis: 'ratio', amount: 1.5, ratioOf: [4] },
        { item: 'WATER', basis: 'qs' },
      ],
    });
    expect(body.lines.map((line) => line.percent)).toEqual(['20 %', '10 %', '0.8 %', '2 %', '3 %', '64.2 %']);
    expect(body.lines.reduce((sum, line) => sum + line.partPpb!, 0)).toBe(1_000_000_000);
  });

  it.each([
    [
      'shares past 100 %',
      [
        { item: 'WATER', basis: 'share', amount: '60 %' },
        { item: 'FO', basis: 'share', amount: '50 %' },
      ],
      ['/lines/0', '/lines/1'],
      'shares-past-100',
    ],
    [
      'shares short of 100 %',
      [
        { item: 'WATER', basis: 'share', amount: '60 %' },
        { item: 'FO', basis: 'share', amount: '30 %' },
      ],
      ['/lines/0', '/lines/1'],
      'no-solution',
    ],
    [
      'two lines that fill up',
      [
        { item: 'WATER', basis: 'qs' },
        { item: 'ALCOHOL', basis: 'qs' },
      ],
      ['/lines/0', '/lines/1'],
      'many-solutions',
    ],
    [
      'a load without base',
      [
        { item: 'WATER', basis: 'qs' },
        { item: 'FO', basis: 'load', amount: '5 %' },
      ],
      ['/lines/1'],
      'load-without-base',
    ],
    [
      'ratios in a loop',
      [
        { item: 'WATER', basis: 'qs' },
        { item: 'FO', basis: 'ratio', amount: 1, ratioOf: [3] },
        { item: 'SOLUB', basis: 'ratio', amount: 1, ratioOf: [2] },
      ],
      ['/lines/1', '/lines/2'],
      'ratio-loop',
    ],
    [
      'a ratio to no line',
      [
        { item: 'WATER', basis: 'qs' },
        { item: 'FO', basis: 'ratio', amount: 1, ratioOf: [9] },
      ],
      ['/lines/1'],
      'ratio-names-unknown-line',
    ],
  ])('refuses %s and points at the lines', async (_, lines, pointers, code) => {
    const { status, body } = await post('/api/formulas/solve', { lines });
    expect(status).toBe(422);
    expect(body.code).toBe('unsolvable');
    expect(pointersOf(body)).toEqual(pointers);
    expect(body.errors[0]!.code).toBe(code);
  });

  it.each([
    ['an item nobody knows', 'bulk', { item: 'NOBODY', basis: 'share', amount: '1 %' }, '/lines/1/item'],
    [
      'a counted item as part of the weight',
      'bulk',
      { item: 'BOTTLE', basis: 'share', amount: '1 %' },
      '/lines/1/item',
    ],
    ['a counted item that fills up', 'bulk', { item: 'BOTTLE', basis: 'qs' }, '/lines/1/item'],
    ['each in a bulk', 'bulk', { item: 'BOTTLE', basis: 'each', amount: 1 }, '/lines/1/basis'],
    ['a share in a product', 'product', { item: 'FO', basis: 'share', amount: '1 %' }, '/lines/1/basis'],
    ['a load in a set', 'set', { item: 'FO', basis: 'load', amount: '1 %' }, '/lines/1/basis'],
    ['a weight of bottles', 'product', { item: 'BOTTLE', basis: 'each', amount: '5 g' }, '/lines/1/amount'],
    ['millilitres without density', 'product', { item: 'FO', basis: 'each', amount: '5 ml' }, '/lines/1/amount'],
    ['none of it', 'product', { item: 'BOTTLE', basis: 'each', amount: 0 }, '/lines/1/amount'],
    ['half a bottle', 'product', { item: 'BOTTLE', basis: 'each', amount: 0.5 }, '/lines/1/amount'],
    [
      'a ratio finer than ppb',
      'bulk',
      { item: 'FO', basis: 'ratio', amount: '0.1234567891', ratioOf: [1] },
      '/lines/1/amount',
    ],
    ['a basis nobody knows', 'bulk', { item: 'FO', basis: 'some', amount: 1 }, '/lines/1/basis'],
    ['qs with an amount', 'bulk', { item: 'FO', basis: 'qs', amount: 1 }, '/lines/1/amount'],
  ])('refuses %s', async (_, kind, line, pointer) => {
    const first = kind === 'bulk' ? { item: 'WATER', basis: 'qs' } : { item: 'BULK', basis: 'each', amount: '10 g' };
    const { status, body } = await post('/api/formulas/solve', { kind, lines: [first, line] });
    expect(status).toBe(422);
    expect(pointersOf(body)).toContain(pointer);
  });

  it('saves nothing', async () => {
    const before = await app.database.query('select count(*)::int as count from formula');
    await post('/api/formulas/solve', { lines: SPRAY });
    expect(await app.database.query('select count(*)::int as count from formula')).toEqual(before);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    const lines = [...SPRAY, { item: 'SOLUB', basis: 'ratio', amount: '1', ratioOf: [2], step: 'make' }];
    expect(await faultsOnBadInput(app, 'POST', '/api/formulas/solve', { lines, kind: 'bulk' })).toEqual([]);
  });
});

describe('formulas of an item', () => {
  beforeAll(() => post('/api/vessels', { code: 'JUG', kind: 'jug', capacity: '17 kg' }));

  it.each([
    ['a vessel that nobody has', { vesselKind: 'kettle' }, '/vesselKind', 'No vessel is a kettle. There are: jug.'],
    ['one that its residue fills', { vesselKind: 'jug', residue: '17 kg' }, '/residue', 'would stay in it'],
  ])('refuses %s', async (_, made, pointer, sentence) => {
    const { status, body } = await post('/api/items/BULK/formulas', {
      lines: SPRAY,
      batchMin: '1 kg',
      ...made,
    });
    expect(status).toBe(422);
    expect(body.errors).toMatchObject([{ pointer }]);
    expect(body.errors[0]!.detail).toContain(sentence);
  });

  it('adds versions, the newest current, and keeps lines, parts and steps', async () => {
    const first = await post<FormulaView>('/api/items/BULK/formulas', {
      lines: SPRAY,
      batchMin: '1 kg',
      batchMax: '20 l',
      batchMultiple: '100 g',
      loss: '2 %',
      residue: '20 g',
      vesselKind: 'jug',
      restDays: 7,
      minutesBatch: 45,
      steps: [{ phase: 'make', instruction: 'No flame near alcohol.\nStir.' }],
      note: 'first',
    });
    expect(first.status).toBe(201);
    expect(first.body).toMatchObject({
      item: 'BULK',
      version: 1,
      isCurrent: true,
      batchMin: 1_000_000,
      batchMax: 17_000_000,
      lossPpb: 20_000_000,
      residueMg: 20_000,
      vesselKind: 'jug',
      lines: [
        { line: 1, item: 'BASE', basis: 'qs', amount: null, isBase: true, step: 'make', partPpb: 952_380_952 },
        { line: 2, item: 'FO', basis: 'load', amount: 50_000_000, isBase: false, partPpb: 47_619_048 },
      ],
      steps: [{ phase: 'make', instruction: 'No flame near alcohol.\nStir.' }],
    });
    const second = await post<FormulaView>('/api/items/BULK/formulas', { lines: SPRAY, batchMin: '1 kg' });
    expect(second.body.version).toBe(2);
    const { body } = await app.request<{ formulas: FormulaSummary[] }>('GET', '/api/items/BULK/formulas');
    expect(body.formulas.map(({ version, isCurrent }) => [version, isCurrent])).toEqual([
      [2, true],
      [1, false],
    ]);
    const old = await app.request<FormulaView>('GET', `/api/formulas/${first.body.id}`);
    expect(old.body).toEqual({ ...first.body, isCurrent: false });
  });

  it('reads a fill in millilitres by the density of the bulk', async () => {
    const { status, body } = await post<FormulaView>('/api/items/PRODUCT/formulas', {
      lines: [
        { item: 'BULK', basis: 'each', amount: '100 ml' },
        { item: 'BOTTLE', basis: 'each', amount: 1 },
        { item: 'BOTTLE', basis: 'fixed', amount: 2, step: 'pack' },
      ],
      batchMin: 1,
      secondsUnit: 40,
    });
    expect(status).toBe(201);
    expect(body.lines.map(({ amount, step, partPpb }) => [amount, step, partPpb])).toEqual([
      [85_000, 'fill', null],
      [1, 'fill', null],
      [2, 'pack', null],
    ]);
  });

  it('refuses to make an item from itself, however far round, and names the circle', async () => {
    await post('/api/items/SET/formulas', { lines: [{ item: 'PRODUCT', basis: 'each', amount: 2 }], batchMin: 1 });
    const own = await post('/api/items/BASE/formulas', { lines: [{ item: 'BASE', basis: 'qs' }], batchMin: '1 kg' });
    expect(own.status).toBe(422);
    expect(own.body).toMatchObject({ code: 'cycle', items: ['BASE'] });
    const { status, body } = await post('/api/items/BASE/formulas', {
      lines: [
        { item: 'WATER', basis: 'qs' },
        { item: 'SET', basis: 'fixed', amount: 1 },
      ],
      batchMin: '1 kg',
    });
    expect(status).toBe(422);
    expect(body.items).toEqual(['BASE', 'SET', 'PRODUCT', 'BULK']);
    expect(body.detail).toContain('BASE -> SET -> PRODUCT -> BULK -> BASE');
    expect(pointersOf(body)).toEqual(['/lines/1/item']);
  });

  it('lets only one of two at once close a circle', async () => {
    for (const code of ['RING-A', 'RING-B'])
      await post('/api/items', { code, name: code, kind: 'bulk', measure: 'weighed' });
    const close = (code: string, from: string) =>
      post(`/api/items/${code}/formulas`, { lines: [{ item: from, basis: 'qs' }], batchMin: '1 kg' });
    const answers = await Promise.all([close('RING-A', 'RING-B'), close('RING-B', 'RING-A')]);
    expect(answers.map((answer) => answer.status).toSorted()).toEqual([201, 422]);
  });

  it('refuses formulas more than twelve deep', async () => {
    const codes = Array.from({ length: 14 }, (_, level) => `DEEP-${level}`);
    for (const code of codes) await post('/api/items', { code, name: code, kind: 'bulk', measure: 'weighed' });
    const statuses: number[] = [];
    for (let level = 12; level >= 0; level--) {
      const lines = [{ item: codes[level + 1], basis: 'qs' }];
      statuses.push((await post(`/api/items/${codes[level]}/formulas`, { lines, batchMin: '1 kg' })).status);
    }
    expect(statuses).toEqual([...Array.from({ length: 12 }, () => 201), 422]);
  });

  it.each([
    ['a material', 'FO', {}, '/lines'],
    ['a smallest batch of nothing', 'BULK', { batchMin: 0 }, '/batchMin'],
    ['a largest batch below the smallest', 'BULK', { batchMax: '999 g' }, '/batchMax'],
    ['a multiple no batch can be', 'BULK', { batchMax: '2 kg', batchMultiple: '3 kg' }, '/batchMultiple'],
    ['losing all of it', 'BULK', { loss: '91 %' }, '/loss'],
    ['a residue by volume', 'BULK', { residue: '10 ml' }, '/residue'],
    ['a rest of years and years', 'BULK', { restDays: 1001 }, '/restDays'],
    ['a step of no phase', 'BULK', { steps: [{ phase: 'sell', instruction: 'x' }] }, '/steps/0/phase'],
    ['an empty step', 'BULK', { steps: [{ phase: 'make', instruction: ' ' }] }, '/steps/0/instruction'],
    ['no lines', 'BULK', { lines: [] }, '/lines'],
    ['too many lines', 'BULK', { lines: Array.from({ length: 65 }, () => SPRAY[1]) }, '/lines'],
    [
      'a set in a vessel',
      'SET',
      { lines: [{ item: 'PRODUCT', basis: 'each', amount: 1 }], batchMin: 1, vesselKind: 'jug' },
      '/vesselKind',
    ],
    [
      'a set that rests',
      'SET',
      { lines: [{ item: 'PRODUCT', basis: 'each', amount: 1 }], batchMin: 1, restDays: 1 },
      '/restDays',
    ],
  ])('refuses %s', async (_, code, change, pointer) => {
    const { status, body } = await post(`/api/items/${code}/formulas`, { lines: SPRAY, batchMin: '1 kg', ...change });
    expect(status).toBe(422);
    expect(pointersOf(body)).toContain(pointer);
  });

  it('answers 404 for what is not there', async () => {
    expect((await post('/api/items/NOBODY/formulas', { lines: SPRAY, batchMin: '1 kg' })).status).toBe(404);
    expect((await app.request('GET', '/api/items/NOBODY/formulas')).status).toBe(404);
    expect((await app.request('GET', '/api/formulas/999999')).status).toBe(404);
    expect((await app.request('GET', '/api/formulas/one')).status).toBe(422);
    expect((await app.request('GET', '/api/formulas/99999999999999999999')).status).toBe(422);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(
      await faultsOnBadInput(app, 'POST', '/api/items/BULK/formulas', {
        lines: SPRAY,
        batchMin: '1 kg',
        loss: '1 %',
        residue: '1 g',
        vesselKind: 'jug',
        steps: [{ phase: 'make', instruction: 'Stir.' }],
      }),
    ).toEqual([]);
  });
});
