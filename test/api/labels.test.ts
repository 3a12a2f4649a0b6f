import { beforeAll, describe, expect, it } from 'vitest';
import type { ItemLabelView, LabelView } from '../../src/labels/labels.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { decode, drawSvg, readPdf } from '../support/printed.js';
import type { PdfPage } from '../support/printed.js';
import type { ProblemBody } from '../support/shelf.js';
import { shelfOf } from '../support/shelf.js';
import { openSmallShop } from '../support/small-shop.js';

const app = useTestApp();
const { get, done, refused } = shelfOf(app);

async function put<Body = ProblemBody>(url: string, body: object): Promise<Body> {
  const answer = await app.request<Body>('PUT', url, body);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}

const label = (lot: string) => get<LabelView>(`/api/lots/${lot}/label`);

async function pages(url: string): Promise<PdfPage[]> {
  const answer = await app.app.inject({ method: 'GET', url });
  expect(answer.statusCode, answer.payload.slice(0, 300)).toBe(200);
  expect(answer.headers['content-type']).toBe('application/pdf');
  return readPdf(answer.rawPayload);
}

beforeAll(async () => {
  await openSmallShop(app);
  await done('/api/lots', { item: 'CEDAR-100', code: '26061-001', quantity: 12, expiresOn: '2027-09-01' });
});

describe('what a label says', () => {
  it('names what nobody has said yet, and that local law decides', async () => {
    expect(await label('26061-001')).toMatchObject({
      name: 'Cedar spray 100 ml',
      net: null,
      dates: ['Use by 2027-09-01'],
      notice: 'Local law decides what a label must show. Check it before you print.',
      open: [
        'The contents are not stated.',
        'Who made it is not stated.',
        'Allergens are not named, since nothing says that it touches skin.',
      ],
      address: 'http://localhost:80/shelf/lots/26061-001',
    });
  });

  it('lists what is in it through every level, most first, by its printed names', async () => {
    await put('/api/items/ALCOHOL/label', { printedName: 'Alcohol denat.' });
    // 5 % of the base: 4.7619048 % of the whole
    expect((await label('26061-001')).ingredients).toEqual([
      { item: 'ALCOHOL', name: 'Alcohol denat.', partPpb: 952_380_952 },
      { item: 'CEDAR', name: 'Cedar oil', partPpb: 47_619_048 },
    ]);
  });

  it('names an allergen only above the threshold, exactly', async () => {
    // figures of the rule (exceeds 0.001 % in what stays on, 0.01 % in what is rinsed off): 47 619 048 ppb of fragrance
    const allergen = (name: string, part: number) => ({ name, part, source: 'supplier, issue 3', dated: '2026-01-01' });
    await put('/api/items/CEDAR-100/label', { net: '100 ml', contact: 'leave-on', maker: 'Quarry Lane Workshop' });
    expect((await label('26061-001')).open).toEqual(['What allergens are in Cedar oil is not known here.']);
    await put('/api/items/CEDAR/allergens', {
      // 47 619 048 x 209 999 = 9.99995e12 ppb of ppb, just below 10 000 ppb; 210 000 is 10 000.00008
      allergens: [allergen('Limonene', 209_999), allergen('Linalool', 210_000), allergen('Citral', 30_000_000)],
    });
    const leaveOn = await label('26061-001');
    expect(leaveOn.allergens.map(({ name }) => name)).toEqual(['Citral', 'Linalool']);
    expect(leaveOn.open).toEqual([]);
    await put('/api/items/CEDAR-100/label', { net: '100 ml', contact: 'rinse-off' });
    expect((await label('26061-001')).allergens.map(({ name }) => name)).toEqual(['Citral']);
    await put('/api/items/CEDAR-100/label', { net: '100 ml', contact: 'none' });
    expect((await label('26061-001')).allergens).toEqual([]);
  });

  it('follows the formula the lot was made by, not the newest', async () => {
    const { id } = await done<{ id: number }>('/api/items/CEDAR-BULK/formulas', {
      batchMin: '500 g',
      lines: [
        { item: 'CEDAR', basis: 'qs' },
        { item: 'ALCOHOL', basis: 'share', amount: '10 %' },
      ],
    });
    expect((await label('26061-001')).ingredients.map(({ item }) => item)).toEqual(['CEDAR', 'ALCOHOL']);
    await app.database.query(
      `with made as (
         insert into batch (code, formula_id, item_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
         select 'B-OLD', f.id, i.id, 'cancelled', '2026-02-02', '2026-02-09', '2026-02-09', 100, 0, 0
         from item i join formula f on f.item_id = i.id and f.version = 1 where i.code = 'CEDAR-BULK' returning id)
       insert into lot (code, item_id, status, came_on, batch_id)
       select 'BULK-OLD', i.id, 'held', '2026-03-01', made.id from item i, made where i.code = 'CEDAR-BULK'`,
    );
    await app.database.query(
      `insert into peg (batch_id, position, quantity) select id, 1, output from batch where code = 'B-OLD'`,
    );
    expect((await label('BULK-OLD')).ingredients.map(({ item }) => item)).toEqual(['ALCOHOL', 'CEDAR']);
    await app.database.query('update formula set withdrawn = true where id = $1', [id]);
  });

  it('warns of what burns, and of what the workshop adds', async () => {
    await app.request('PATCH', '/api/items/CEDAR-100', { flammable: true });
    await put('/api/items/CEDAR-100/label', { net: '100 ml', openedMonths: 12, cautions: ['Test on a hidden spot.'] });
    const said = await label('26061-001');
    expect(said.cautions[0]).toMatch(/^Flammable\./);
    expect(said.cautions.at(-1)).toBe('Test on a hidden spot.');
    expect(said.net).toBe('100 ml / 3.38 fl oz');
    expect(said.dates).toEqual(['Use by 2027-09-01', 'Use within 12 months of opening']);
  });

  it('refuses contents that are none, or of what has none', async () => {
    const put422 = async (item: string, body: object) =>
      (await app.request<ProblemBody>('PUT', `/api/items/${item}/label`, body)).body.errors?.[0]?.pointer;
    expect(await put422('CEDAR-100', { net: '0 g' })).toBe('/net');
    expect(await put422('CEDAR-100', { net: '12' })).toBe('/net');
    expect(await put422('CEDAR', { net: '12 g' })).toBe('/net');
    expect(await put422('CEDAR-100', { net: '100 ml', allowedShort: '4 g' })).toBe('/allowedShort');
    expect(await put422('CEDAR-100', { allowedShort: '4 g' })).toBe('/allowedShort');
    expect(
      await put<ItemLabelView>('/api/items/CEDAR-100/label', { net: '3.4 fl oz', allowedShort: '4.5 ml' }),
    ).toMatchObject({
      netMg: null,
      netUl: 100_550,
      allowedShort: 4_500,
    });
    const body = { printedName: 'x', net: '100 ml', contact: 'none', cautions: ['x'], maker: 'x' };
    expect(await faultsOnBadInput(app, 'PUT', '/api/items/CEDAR-100/label', body)).toEqual([]);
  });
});

describe('bar codes of a lot', () => {
  it('lead to its page at the address the workshop is reached at', async () => {
    const rules = {
      netRule: 'nist-133',
      leaveOn: '0.001 %',
      rinseOff: '0.01 %',
      allergenSource: 'x',
      address: 'https://lots.example.org/',
    };
    await put('/api/bench-rules', rules);
    const { text, headers } = await app.request('GET', '/api/lots/26061-001/qr.svg');
    expect(headers['content-type']).toContain('image/svg+xml');
    const width = Number(/viewBox="0 0 (\d+)/.exec(text)![1]) * 8;
    expect(decode(await drawSvg(text, width), 'qr')).toBe('https://lots.example.org/shelf/lots/26061-001');
    const bars = await app.request('GET', '/api/lots/26061-001/code128.svg');
    const across = Number(/viewBox="0 0 (\d+)/.exec(bars.text)![1]) * 4;
    expect(decode(await drawSvg(bars.text, across), 'code128')).toBe('26061-001');
    expect((await app.request('GET', '/api/lots/NONE/qr.svg')).status).toBe(404);
  });
});

describe('labels to print', () => {
  const SHEETS: [string, number, number, number, number][] = [
    ['a4-70x37', 210, 297, 3, 8],
    ['a4-64x38', 210, 297, 3, 7],
    ['a4-99x68', 210, 297, 2, 4],
    ['letter-102x51', 215.9, 279.4, 2, 5],
  ];

  beforeAll(async () => {
    await put('/api/items/CEDAR-100/label', { net: '100 ml', contact: 'leave-on', maker: 'Quarry Lane Workshop' });
  });

  it.each(SHEETS)('lie on a sheet %s where its dimensions say', async (sheet, width, height, columns, rows) => {
    const perPage = columns * rows;
    const all = await pages(`/api/lots/26061-001/label.pdf?sheet=${sheet}&copies=${perPage + 1}&skip=1`);
    expect(all.map((page) => [page.width, page.height].map((mm) => Math.round(mm * 10) / 10))).toEqual([
      [width, height],
      [width, height],
    ]);
    const { labelSheets } = await get<{
      labelSheets: { code: string; leftUm: number; pitchXUm: number; pitchYUm: number }[];
    }>('/api/label-sheets');
    const grid = labelSheets.find(({ code }) => code === sheet)!;
    const names = all[0]!.texts.filter(({ text }) => text.startsWith('Cedar spray'));
    expect(names).toHaveLength(perPage - 1);
    expect(all[1]!.texts.filter(({ text }) => text.startsWith('Cedar spray'))).toHaveLength(2);
    // the first place is used up: the first label begins one pitch to the right, inside, and where printers reach
    const inside = Math.max(2, 4.5 - grid.leftUm / 1000);
    expect(names[0]!.x).toBeCloseTo((grid.leftUm + grid.pitchXUm) / 1000 + inside, 1);
    const ends = all.flatMap(({ texts }) => texts.map(({ x, y }): [number, number] => [x, y]));
    expect(Math.min(...ends.map(([x]) => x), ...ends.map(([, y]) => y))).toBeGreaterThanOrEqual(4.4);
    expect(names[columns]!.y - names[0]!.y).toBeCloseTo(grid.pitchYUm / 1000, 1);
  });

  it('say all of it, and their QR code is read back from the page', async () => {
    const [page] = await pages('/api/lots/26061-001/label.pdf?width=90&height=50&bars=yes');
    expect([page!.width, page!.height].map(Math.round)).toEqual([90, 50]);
    const said = await label('26061-001');
    for (const text of [
      said.name,
      '100 ml / 3.38 fl oz',
      'Lot 26061-001',
      'Use by 2027-09-01',
      'Ingredients: Alcohol denat., Cedar oil',
      'Contains: Citral, Linalool',
      ...said.cautions,
      'Quarry Lane Workshop',
    ])
      expect(page!.text).toContain(text);
    expect(Math.min(...page!.texts.map(({ size }) => size))).toBeGreaterThanOrEqual(4.5);
    const corner = await page!.draw(40, { x: 64, y: 0, width: 26, height: 26 });
    expect(decode(corner, 'qr')).toBe('https://lots.example.org/shelf/lots/26061-001');
    const foot = await page!.draw(40, { x: 0, y: 39, width: 90, height: 11 });
    expect(decode(foot, 'code128')).toBe('26061-001');
  });

  it('write names of other languages as they are', async () => {
    const maker = 'Łukasz Ó Briain, Ελιά, Сосна';
    await put('/api/items/CEDAR-100/label', { net: '100 ml', maker });
    const [page] = await pages('/api/lots/26061-001/label.pdf?width=90&height=50');
    expect(page!.text).toContain(maker);
  });

  it('are refused rather than cut', async () => {
    const url = '/api/lots/26061-001/label.pdf';
    const said = async (query: string) => {
      const answer = await app.request<ProblemBody>('GET', `${url}?${query}`);
      return `${answer.status} ${answer.body.code}`;
    };
    expect(await said('width=30&height=12')).toBe('409 label-too-small');
    expect(await said('width=30&height=40&bars=yes')).toBe('409 label-too-small');
    expect(await said('sheet=none')).toBe('422 unknown-sheet');
    expect(await said('sheet=a4-70x37&skip=24')).toBe('422 invalid');
    expect(await said('skip=2')).toMatch(/^422/);
    expect(await said('copies=501')).toMatch(/^422/);
  });

  it('go on sheets of the workshop itself, whose labels lie on the page and not on each other', async () => {
    const sheet = {
      name: 'Rolls',
      pageWidthMm: 110,
      pageHeightMm: '60.5',
      columns: 2,
      rows: 1,
      widthMm: 50,
      heightMm: 55,
      leftMm: 2,
      topMm: 2,
      pitchXMm: 52,
      pitchYMm: 55,
    };
    await put('/api/label-sheets/rolls', sheet);
    const [page] = await pages('/api/lots/26061-001/label.pdf?sheet=rolls&copies=2');
    expect(page!.height).toBeCloseTo(60.5, 1);
    expect(page!.texts.filter(({ text }) => text === 'Lot 26061-001')).toHaveLength(2);
    const fault = async (change: object) =>
      (await app.request<ProblemBody>('PUT', '/api/label-sheets/rolls', { ...sheet, ...change })).body.code;
    expect(await fault({ columns: 3 })).toBe('off-page');
    expect(await fault({ rows: 2 })).toBe('off-page');
    expect(await fault({ pitchXMm: 49 })).toBe('overlapping');
    expect(await faultsOnBadInput(app, 'PUT', '/api/label-sheets/rolls', sheet)).toEqual([]);
    expect(await refused('/api/label-sheets/rolls', sheet)).toMatch(/^404/);
  });
});
