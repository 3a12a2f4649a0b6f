import { beforeAll, describe, expect, it } from 'vitest';
import type { FormulaView, SheetView } from '../../src/catalog/formulas.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';

const app = useTestApp();

interface Problem {
  errors: { pointer: string }[];
}

const post = <Body = Problem>(url: string, body: unknown) => app.request<Body>('POST', url, body);
const pointersOf = (body: Problem) => body.errors.map((error) => error.pointer);

const SPRAY = [
  { item: 'BASE', basis: 'qs', isBase: true },
  { item: 'FO', basis: 'load', amount: '5 %' },
];

const WORKSHOP = {
  name: 'Test',
  timeZone: 'UTC',
  currency: 'EUR',
  benchMinutes: [480, 480, 480, 480, 480, 0, 0],
  slackDays: 1,
  receivingDays: 1,
  scaleStep: '0.1 g',
  scaleLeast: '0.5 g',
};

describe('POST /api/formulas/{id}/scale', () => {
  let bulkId = 0;
  let productId = 0;

  beforeAll(async () => {
    for (const code of ['BASE', 'FO'])
      await post('/api/items', { code, name: code, kind: 'material', measure: 'weighed' });
    await post('/api/items', { code: 'BOTTLE', name: 'Bottle', kind: 'material', measure: 'counted' });
    await post('/api/items', { code: 'S-BULK', name: 'S', kind: 'bulk', measure: 'weighed', density: '0.85 g/ml' });
    await post('/api/items', { code: 'S-PRODUCT', name: 'S', kind: 'product', measure: 'counted' });
    const bulk = { lines: SPRAY, batchMin: '1 kg', loss: '2 %', residue: '20 g' };
    bulkId = (await post<FormulaView>('/api/items/S-BULK/formulas', bulk)).body.id;
    const product = {
      lines: [
        { item: 'S-BULK', basis: 'each', amount: '100 ml' },
        { item: 'BOTTLE', basis: 'each', amount: 1 },
        { item: 'BOTTLE', basis: 'fixed', amount: 3 },
      ],
      batchMin: 1,
    };
    productId = (await post<FormulaView>('/api/items/S-PRODUCT/formulas', product)).body.id;
  });

  const scale = <Body = SheetView>(id: number, body: unknown) => post<Body>(`/api/formulas/${id}/scale`, body);

  it('gives every line at the readability of the scale, summing to the batch', async () => {
    const { status, body } = await scale(bulkId, { batch: '5 kg' });
    expect(status).toBe(200);
    expect(body).toMatchObject({ putInMg: 5_000_000, output: 4_880_000, scaleStepMg: 100 });
    expect(body.lines.map((line) => line.text)).toEqual(['4761.9 g', '238.1 g']);
    expect(body.lines.map((line) => line.flag)).toEqual([null, null]);
  });

  it('counts fragrance on the base: 5 % of 472 g is 23.6 g (common practice, no source)', async () => {
    const { body } = await scale(bulkId, { batch: '495.6 g' });
    expect(body.lines.map((line) => line.amount)).toEqual([472_000, 23_600]);
  });

  it('puts in what the wanted output needs: (output + residue) / (1 - loss), up to the scale', async () => {
    const { body } = await scale(bulkId, { output: '4 kg' });
    // (4 000 000 + 20 000) / 0.98 = 4 102 040.8, up to the next 100
    expect(body.putInMg).toBe(4_102_100);
    expect(body.lines.reduce((sum, line) => sum + line.amount, 0)).toBe(body.putInMg);
  });

  it('multiplies what is counted by the units and takes fixed lines once', async () => {
    const { body } = await scale(productId, { batch: '2 dozen' });
    expect(body).toMatchObject({ putInMg: 2_040_000, output: 24 });
    expect(body.lines.map((line) => line.amount)).toEqual([2_040_000, 24, 3]);
    expect((await scale(productId, { output: 24 })).body.lines).toEqual(body.lines);
  });

  it('flags what the scale cannot weigh well, says what to do, and never makes it nothing', async () => {
    const light = (await scale(bulkId, { batch: '30 g' })).body;
    // 30 g hold 1.43 g of fragrance: fine on a scale that weighs from 0.5 g
    expect(light.lines[1]!.flag).toBeNull();
    await app.request('PUT', '/api/workshop', { ...WORKSHOP, scaleStep: '5 g', scaleLeast: '50 g' });
    const coarse = (await scale(bulkId, { batch: '60 g' })).body;
    expect(coarse.lines[1]!.amount).toBeGreaterThan(0);
    expect(coarse.lines[1]!.flag).not.toBeNull();
    expect(coarse.lines[1]!.advice).toEqual([
      'Weigh it on a finer scale.',
      'Weigh a larger amount of a predilution of it.',
      'Make a larger batch: from 1.05 kg put in it can be weighed.',
    ]);
    await app.request('PUT', '/api/workshop', WORKSHOP);
  });

  it.each([
    [{ batch: 0 }, '/batch'],
    [{ batch: '0 g' }, '/batch'],
    [{ batch: 9_007_199_254_740_991 }, '/batch'],
    [{ output: '9000001 kg' }, '/output'],
    [{ batch: '10 g' }, '/batch'],
    [{ batch: '5' }, '/batch'],
    [{ batch: -5 }, '/batch'],
    [{}, ''],
    [{ batch: '1 kg', output: '1 kg' }, ''],
  ])('refuses %j', async (asked, pointer) => {
    const { status, body } = await scale<Problem>(bulkId, asked);
    expect(status).toBe(422);
    expect(pointersOf(body)).toContain(pointer);
  });

  it('refuses so many units that they cannot be weighed, and a formula nobody knows', async () => {
    expect((await scale(productId, { batch: 9_000_000_000_000 })).status).toBe(422);
    expect((await scale(999_999, { batch: '1 kg' })).status).toBe(404);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(await faultsOnBadInput(app, 'POST', `/api/formulas/${bulkId}/scale`, { batch: '1 kg' })).toEqual([]);
  });
});
