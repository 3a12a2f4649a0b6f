import { beforeAll, describe, expect, it } from 'vitest';
import type { LotPage } from '../../src/stock/stock.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';

const TODAY = '2026-11-25';
let app: TestApp;
let lot: string;
let place: string;
let run: number;
beforeAll(async () => {
  app = await startTestApp({ today: TODAY, filled: DEMONSTRATION });
  const made = await app.request<{ id: number }>('POST', '/api/runs', { weekStart: '2026-11-30' });
  run = made.body.id;
  const { lots } = (await app.request<LotPage>('GET', '/api/lots?item=FO-CEDAR')).body;
  lot = lots[0]!.code;
  place = lots[0]!.place;
  return () => app.close();
});

/** What a person reads of a page: fields that are filled in take grams and ounces alike, and example texts are no amounts. */
async function readOf(page: string): Promise<string> {
  const { text, status } = await app.request('GET', page, undefined, { accept: 'text/html' });
  expect(status, page).toBe(200);
  return text
    .replace(/<(label|div class="hint" id="[^"]*")[^>]*>[^<]*<\/\w+>/g, ' ')
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ')
    .replace('with a unit: 1.2 kg', '');
}

describe('in a workshop that reads ounces', () => {
  it('stands an ounce or a pound beside every weight', async () => {
    const { body } = await app.request('GET', '/api/workshop');
    const settings = Object.fromEntries(
      ['name', 'timeZone', 'currency', 'benchMinutes', 'slackDays', 'receivingDays'].map((name) => [name, body[name]]),
    );
    const put = { ...settings, units: 'us', scaleStep: '0.1 g', scaleLeast: '0.5 g' };
    expect((await app.request('PUT', '/api/workshop', put)).status).toBe(200);
    for (const page of [
      '/week/2026-11-30',
      '/shelf',
      '/shelf/items/FO-CEDAR',
      `/shelf/lots/${lot}`,
      `/shelf/count?place=${encodeURIComponent(place)}`,
      '/formulas/BLK-SP-CEDAR',
      '/formulas/BLK-SP-CEDAR/new',
      '/formulas/BLK-SP-CEDAR/sheet',
      '/formulas/SP-CEDAR-100',
      '/reorder',
      '/why/reorder/RM-SOLUB',
      `/why/need/${run}/FO-CEDAR`,
      '/why/bench/2026-11-30',
    ]) {
      const text = await readOf(page);
      // names of products hold weights of their own, such as "candle 120 g"
      const said = text.replace(/(?:candle|jar|tin|bar) \d+ g/g, '');
      const amounts = [...said.matchAll(/[+-]?\d+(?:\.\d+)? k?g\b(.{0,12})/g)];
      const bare = amounts.filter(([, after]) => !/^ \(-?\d+(?:\.\d+)? (?:oz|lb)/.test(after!)).map(([found]) => found);
      expect(bare, page).toEqual([]);
    }
    // NIST Handbook 44, appendix C: 1 avoirdupois ounce = 28.349 523 125 g; 340 g are 11.993 oz
    expect(await readOf(`/shelf/lots/${lot}`)).toContain('340 g (11.993 oz)');
  });
});

describe('what a batch costs', () => {
  it('is at lots, else the cheapest pack, else what its own formula takes, and says which', async () => {
    const fresh = await app.request('POST', '/api/items', {
      code: 'BLK-NEW',
      name: 'New bulk',
      kind: 'bulk',
      measure: 'weighed',
    });
    expect(fresh.status, fresh.text).toBe(201);
    for (const [code, name] of [
      ['RM-NEW', 'New oil'],
      ['RM-NONE', 'Nameless oil'],
    ] as const)
      expect(
        (await app.request('POST', '/api/items', { code, name, kind: 'material', measure: 'weighed' })).status,
      ).toBe(201);
    // 10.00 for 1 kg is cheaper than 6.00 for 500 g
    for (const [code, size, priceE4] of [
      ['A', '500 g', 60_000],
      ['B', '1 kg', 100_000],
    ] as const) {
      const pack = { supplier: 'BRINDLE', item: 'RM-NEW', code: `NEW-${code}`, size, priceE4, leadDays: 3 };
      expect((await app.request('POST', '/api/packs', pack)).status).toBe(201);
    }
    const bulk = {
      lines: [{ item: 'RM-NEW', basis: 'qs' }],
      batchMin: '1 kg',
      loss: '20',
    };
    expect((await app.request('POST', '/api/items/BLK-NEW/formulas', bulk)).status).toBe(201);
    // 1 kg out of it is 1.25 kg put in: 12.50, so 800 g put in are 8.00
    const page = await readOf('/formulas/BLK-NEW?batch=800%20g');
    expect(page).toContain('€8.00');
    expect(page).toContain('There is no lot of New oil: at the price of the cheapest pack.');
    const blend = { code: 'BLK-BLEND', name: 'Blend', kind: 'bulk', measure: 'weighed' };
    expect((await app.request('POST', '/api/items', blend)).status).toBe(201);
    const lines = [
      { item: 'BLK-NEW', basis: 'share', amount: '50' },
      { item: 'RM-NONE', basis: 'qs' },
    ];
    expect((await app.request('POST', '/api/items/BLK-BLEND/formulas', { lines, batchMin: '1 kg' })).status).toBe(201);
    const blended = await readOf('/formulas/BLK-BLEND?batch=1%20kg');
    // 500 g of what costs 12.50 a kilogram
    expect(blended).toContain('€6.25');
    expect(blended).toContain('There is no lot of New bulk: at what its own formula takes, for its smallest batch.');
    expect(blended).toContain('Neither lot, pack nor formula says what Nameless oil costs, so it is not in it.');
  });
});
