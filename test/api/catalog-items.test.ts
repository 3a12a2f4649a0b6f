import { beforeAll, describe, expect, it } from 'vitest';
import type { ItemPage, ItemView } from '../../src/catalog/items.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';

const app = useTestApp();

interface Problem {
  status: number;
  code: string;
  detail: string;
  errors: { pointer: string; detail: string; code: string }[];
}

const MATERIAL = { code: 'FO-PLUM', name: 'Plum', kind: 'material', measure: 'weighed' };

const post = <Body = Problem>(url: string, body: unknown) => app.request<Body>('POST', url, body);
const patch = <Body = Problem>(url: string, body: unknown) => app.request<Body>('PATCH', url, body);

describe('POST /api/items', () => {
  it('adds an item with its defaults', async () => {
    const { status, body } = await post<ItemView>('/api/items', MATERIAL);
    expect(status).toBe(201);
    expect(body).toEqual({
      code: 'FO-PLUM',
      name: 'Plum',
      kind: 'material',
      measure: 'weighed',
      family: 'other',
      scent: null,
      densityUgPerMl: null,
      policy: 'to-order',
      target: 0,
      seasonFrom: null,
      seasonTo: null,
      stocked: true,
      lotDateKind: 'expiry',
      shelfLifeDays: null,
      owedLifeDays: 0,
      heel: 0,
      quarantinedOnArrival: false,
      flammable: false,
    });
    expect((await app.request<ItemView>('GET', '/api/items/FO-PLUM')).body).toEqual(body);
  });

  it('reads density, target and heel as text', async () => {
    const { body } = await post<ItemView>('/api/items', {
      ...MATERIAL,
      code: 'RM-ALC',
      density: '0.8107 g/ml',
      policy: 'to-stock',
      target: '2 l',
      heel: '12.5 g',
    });
    expect(body).toMatchObject({ densityUgPerMl: 810_700, target: 1_621_400, heel: 12_500 });
  });

  it('records who added it', async () => {
    await app.request('POST', '/api/items', { ...MATERIAL, code: 'BY-ANA' }, { 'lotwright-person': 'Ana' });
    expect(await app.database.query(`select created_by from item where code = 'BY-ANA'`)).toEqual([
      { created_by: 'Ana' },
    ]);
  });

  it('refuses a code in use', async () => {
    await post('/api/items', { ...MATERIAL, code: 'TWICE' });
    const { status, body } = await post('/api/items', { ...MATERIAL, code: 'TWICE' });
    expect(status).toBe(409);
    expect(body.code).toBe('already-exists');
  });

  it.each([
    ['a density without unit', { density: '0.81' }, '/density'],
    ['a density finer than six decimals', { density: '0.8100001 g/ml' }, '/density'],
    ['a density of lead squared', { density: '26 g/ml' }, '/density'],
    ['both densities', { density: '0.81 g/ml', densityUgPerMl: 810_000 }, '/density'],
    ['a target without unit', { target: '12' }, '/target'],
    ['a target by volume without density', { target: '1 l' }, '/target'],
    ['a target past all sense', { target: 9_000_000_000_001 }, '/target'],
    ['a bulk that is counted', { kind: 'bulk', measure: 'counted' }, '/measure'],
    ['a product that is weighed', { kind: 'product' }, '/measure'],
    ['a season without its end', { policy: 'seasonal', seasonFrom: '2026-10-01' }, '/seasonFrom'],
    [
      'a season that ends before it starts',
      { policy: 'seasonal', seasonFrom: '2026-10-01', seasonTo: '2026-09-30' },
      '/seasonTo',
    ],
    ['a season of what is not seasonal', { seasonFrom: '2026-10-01', seasonTo: '2026-12-01' }, '/seasonFrom'],
    ['a bulk that is not stocked', { kind: 'bulk', stocked: false }, '/stocked'],
    ['a small letter in the code', { code: 'fo-plum' }, '/code'],
    ['30 February', { policy: 'seasonal', seasonFrom: '2026-02-30', seasonTo: '2026-12-01' }, '/seasonFrom'],
    ['a field nobody knows', { colour: 'red' }, '/colour'],
  ])('refuses %s and points at it', async (_, change, pointer) => {
    const { status, body } = await post('/api/items', { ...MATERIAL, code: 'BAD', ...change });
    expect(status).toBe(422);
    expect(body.errors.map((error) => error.pointer)).toContain(pointer);
    expect((await app.request('GET', '/api/items/BAD')).status).toBe(404);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    const body = { ...MATERIAL, density: '0.9 g/ml', target: '1 kg', policy: 'to-stock', shelfLifeDays: 100 };
    expect(await faultsOnBadInput(app, 'POST', '/api/items', { ...body, code: 'FUZZ' })).toEqual([]);
  });
});

describe('GET /api/items', () => {
  beforeAll(async () => {
    for (const code of ['PG-1', 'PG-2', 'PG-3', 'PG_4', 'PGX4'])
      await post('/api/items', { ...MATERIAL, code, name: `Page ${code}`, kind: 'bulk' });
  });

  it('answers page by page, each item once', async () => {
    const seen: string[] = [];
    let after = '';
    for (let pages = 0; pages < 100; pages++) {
      const url = `/api/items?kind=bulk&search=pg&limit=2${after && `&after=${after}`}`;
      const { status, body } = await app.request<ItemPage>('GET', url);
      expect(status).toBe(200);
      expect(body.items.length).toBeLessThanOrEqual(2);
      seen.push(...body.items.map((item) => item.code));
      if (body.next === null) break;
      after = body.next;
    }
    expect(seen.toSorted()).toEqual(['PG-1', 'PG-2', 'PG-3', 'PGX4', 'PG_4']);
  });

  it('takes a wildcard in the search for the character it is', async () => {
    const { body } = await app.request<ItemPage>('GET', '/api/items?search=G_4');
    expect(body.items.map((item) => item.code)).toEqual(['PG_4']);
  });

  it.each(['limit=0', 'limit=1001', 'limit=many', 'kind=car', 'colour=red', 'search=%00'])(
    'refuses ?%s',
    async (query) => {
      const { status, body } = await app.request<Problem>('GET', `/api/items?${query}`);
      expect(status).toBe(422);
      expect(body.errors[0]!.pointer).toMatch(/^\/query/);
    },
  );

  it('answers 404 for an item nobody knows and 422 for what is no code', async () => {
    expect((await app.request('GET', '/api/items/NOBODY')).status).toBe(404);
    expect((await app.request('GET', '/api/items/no%00body')).status).toBe(422);
  });
});

describe('PATCH /api/items/{code}', () => {
  it('changes what is stated and leaves the rest', async () => {
    await post('/api/items', { ...MATERIAL, code: 'PATCHED', density: '0.9 g/ml', shelfLifeDays: 30 });
    const { status, body } = await patch<ItemView>('/api/items/PATCHED', {
      policy: 'seasonal',
      seasonFrom: '2026-10-01',
      seasonTo: '2026-12-24',
      density: null,
    });
    expect(status).toBe(200);
    expect(body).toMatchObject({ policy: 'seasonal', seasonTo: '2026-12-24', densityUgPerMl: null, shelfLifeDays: 30 });
  });

  it('changes the measure only until an amount of it is written', async () => {
    await post('/api/items', { ...MATERIAL, code: 'MEASURED', target: '1 kg', policy: 'to-stock' });
    expect((await patch('/api/items/MEASURED', { measure: 'counted' })).body.errors[0]!.pointer).toBe('/target');
    const changed = await patch<ItemView>('/api/items/MEASURED', { measure: 'counted', target: '1 dozen' });
    expect(changed.body).toMatchObject({ measure: 'counted', target: 12 });
    await post('/api/lots', { item: 'MEASURED', quantity: 5 });
    const { status, body } = await patch('/api/items/MEASURED', { measure: 'weighed', target: 0 });
    expect(status).toBe(409);
    expect(body.code).toBe('measure-in-use');
  });

  it('refuses an empty body, a kind, and an item nobody knows', async () => {
    expect((await patch('/api/items/PATCHED', {})).status).toBe(422);
    expect((await patch('/api/items/PATCHED', { kind: 'bulk' })).body.errors[0]!.pointer).toBe('/kind');
    expect((await patch('/api/items/NOBODY', { name: 'x' })).status).toBe(404);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    await post('/api/items', { ...MATERIAL, code: 'FUZZED' });
    expect(
      await faultsOnBadInput(app, 'PATCH', '/api/items/FUZZED', { name: 'x', density: '1 g/ml', heel: '1 g' }),
    ).toEqual([]);
  });
});

describe('use limits of an item', () => {
  it('keeps the newest figure of a category with its source and date', async () => {
    await post('/api/items', { ...MATERIAL, code: 'LIMITED' });
    const limit = { category: 'room spray', limit: '2.5 %', source: 'certificate, issue 3', dated: '2025-05-01' };
    expect((await post('/api/items/LIMITED/use-limits', limit)).status).toBe(201);
    await post('/api/items/LIMITED/use-limits', { ...limit, limit: 15_000_000, source: 'certificate, issue 4' });
    const { body } = await app.request('GET', '/api/items/LIMITED/use-limits');
    expect(body).toEqual({
      useLimits: [
        { category: 'room spray', limitPpb: 15_000_000, source: 'certificate, issue 4', dated: '2025-05-01' },
      ],
    });
    expect((await post('/api/items/LIMITED/use-limits', { ...limit, limit: '101 %' })).status).toBe(422);
    expect((await post('/api/items/NOBODY/use-limits', limit)).status).toBe(404);
    expect(await faultsOnBadInput(app, 'POST', '/api/items/LIMITED/use-limits', limit)).toEqual([]);
  });
});
