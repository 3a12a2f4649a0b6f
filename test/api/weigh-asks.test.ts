import { beforeAll, describe, expect, it } from 'vitest';
import type { Weighed } from '../../src/bench/bench.schema.js';
import type { BatchRecord } from '../../src/bench/record.schema.js';
import type { Corrected } from '../../src/stock/acts.schema.js';
import { useTestApp } from '../support/app.js';
import { pageText, sendForm } from '../support/page-forms.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, get, item, lot, moves, post, receive, refused } = shelfOf(app);

interface Asked {
  code: string;
  detail: string;
  asks: string[];
  good: { least: number; most: number };
  becomes: number;
  booked: { lot: string; onHand: number; typed: number };
  weighed: number;
}

const send = (batch: string, body: object) => post<Asked>(`/api/batches/${batch}/weighings`, { position: 1, ...body });
const weigh = (batch: string, body: object) =>
  done<Weighed>(`/api/batches/${batch}/weighings`, { position: 1, ...body });
const correct = (id: number) => done<Corrected>(`/api/movements/${id}/correct`, { reason: 'a slip' });
const record = (batch: string) => get<BatchRecord>(`/api/batches/${batch}/record`);
const inLine = async (batch: string) => (await record(batch)).lines[0]!.weighed;

/** Presses the button of the form that is on a page, with these fields filled in: what the page holds by itself is sent along. */
async function press(batch: string, page: string, fields: Record<string, string>) {
  const form = /<form[^>]*action="[^"]*\/weigh"[\s\S]*?<\/form>/.exec(page)![0];
  const held = [...form.matchAll(/<input\b[^>]*>/g)].map(([tag]) => {
    const of = (name: string) => new RegExp(`\\b${name}="([^"]*)"`).exec(tag)?.[1]?.replaceAll('&#34;', '"');
    return [of('name')!, of('value') ?? '', of('type')] as const;
  });
  const own = held.filter(([, , type]) => type !== 'checkbox').map(([name, value]) => [name, value] as const);
  return sendForm(app, `/batches/${batch}/weigh`, { ...Object.fromEntries(own), ...fields });
}

const seen = (html: string): string => html.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

let oil: string;

beforeAll(async () => {
  await item('OIL', { measure: 'weighed', name: 'Cedar oil' });
  await item('BOTTLE', { name: 'Bottle' });
  oil = await receive('OIL', 50_000_000);
});

describe('what is off its target', () => {
  it('is asked about before it is written, beside the range that is good', async () => {
    await openBatch(app, 'A-1', [{ item: 'OIL', quantity: 92_900 }]);
    const { status, body } = await send('A-1', { lot: oil, quantity: '110 g' });
    expect([status, body.code, body.asks, body.good, body.becomes]).toEqual([
      409,
      'off-target',
      ['off'],
      { least: 92_000, most: 93_800 },
      110_000,
    ]);
    expect(body.detail).toBe('110 g of Cedar oil is typed; 92.0 to 93.8 g is good. If it is so, say so.');
    expect(await inLine('A-1')).toBe(0);
    await weigh('A-1', { lot: oil, quantity: '110 g', off: true });
    expect(await inLine('A-1')).toBe(110_000);
  });

  it('is said in one unit: that of the target', async () => {
    await openBatch(app, 'A-6', [{ item: 'OIL', quantity: 1_690_000 }]);
    expect((await send('A-6', { lot: oil, quantity: '1.69 g', isAll: true })).body.detail).toBe(
      '0.00169 kg of Cedar oil is typed, and that is said to be all; 1.6731 to 1.7069 kg is good. If it is so, say so.',
    );
  });

  it('is not asked about at either end of the range, and is one step past it', async () => {
    for (const [at, quantity, status] of [
      [1, '93.8 g', 201],
      [2, '93.9 g', 409],
      [3, '92 g', 201],
      [4, '91.9 g', 409],
    ] as const) {
      await openBatch(app, `A-2${at}`, [{ item: 'OIL', quantity: 92_900 }]);
      expect((await send(`A-2${at}`, { lot: oil, quantity, isAll: true })).status, quantity).toBe(status);
    }
  });

  it('too little is a portion until it is said to be all, and portions are judged together', async () => {
    await openBatch(app, 'A-3', [{ item: 'OIL', quantity: 92_900 }]);
    await weigh('A-3', { lot: oil, quantity: '50 g' });
    const all = { lot: oil, quantity: '10 g', isAll: true, further: true };
    expect((await send('A-3', all)).body.detail).toBe(
      '10 g of Cedar oil is typed, which makes 60 g, and that is said to be all; 92.0 to 93.8 g is good. If it is so, say so.',
    );
    expect((await send('A-3', { ...all, quantity: '50 g', isAll: false })).body).toMatchObject({ becomes: 100_000 });
    await weigh('A-3', { ...all, off: true });
    expect(await inLine('A-3')).toBe(60_000);
  });

  it('holds for pieces, to the piece', async () => {
    await openBatch(app, 'A-4', [{ item: 'BOTTLE', quantity: 10, step: 'fill' }]);
    const bottles = await receive('BOTTLE', 100);
    const { body } = await send('A-4', { lot: bottles, quantity: 11 });
    expect([body.code, body.detail]).toEqual([
      'off-target',
      '11 of Bottle is typed; the sheet says 10 pieces. If it is so, say so.',
    ]);
    await weigh('A-4', { lot: bottles, quantity: 10 });
  });

  it('is asked with all else that is to be said, in one answer under the code of the first', async () => {
    await openBatch(app, 'A-5', [{ item: 'OIL', quantity: 92_900 }]);
    const little = await receive('OIL', 100_000);
    await weigh('A-5', { lot: little, quantity: '50 g' });
    const more = { lot: little, quantity: '150 g' };
    const { body } = await send('A-5', more);
    expect([body.code, body.asks]).toEqual(['already-weighed', ['further', 'off', 'found']]);
    expect(body).toMatchObject({
      weighed: 50_000,
      becomes: 200_000,
      good: { least: 92_000, most: 93_800 },
      booked: { lot: little, onHand: 50_000, typed: 150_000 },
    });
    for (const words of ['is in batch A-5 already', '92.0 to 93.8 g is good', 'The book holds 50 g'])
      expect(body.detail).toContain(words);
    expect((await send('A-5', { ...more, further: true, found: true })).body.asks).toEqual(['off']);
    expect(await lot(little)).toMatchObject({ onHand: 50_000 });
    await weigh('A-5', { ...more, further: true, found: true, off: true });
    expect(await lot(little)).toMatchObject({ onHand: 0 });
  });
});

describe('the record of a batch', () => {
  it('names each line that is off among the deviations: what went in, by how much, who and when', async () => {
    await openBatch(app, 'R-1', [
      { item: 'OIL', quantity: 92_900 },
      { item: 'OIL', quantity: 40_000 },
      { item: 'OIL', quantity: 40_000 },
    ]);
    const as = (who: string, body: object) =>
      app.request('POST', '/api/batches/R-1/weighings', { lot: oil, ...body }, { 'lotwright-person': who });
    expect((await as('Ann', { position: 1, quantity: '90 g' })).status).toBe(201);
    expect((await as('Ben', { position: 1, quantity: '20 g', further: true, off: true })).status).toBe(201);
    expect((await as('Ann', { position: 1, quantity: '1 g', further: true, off: true })).status).toBe(201);
    expect((await as('Ann', { position: 2, quantity: '30 g', isAll: true, off: true })).status).toBe(201);
    // begun, and more of it is to come: nothing is off yet
    expect((await as('Ann', { position: 3, quantity: '30 g' })).status).toBe(201);
    const { deviations, lines } = await record('R-1');
    expect(deviations).toEqual([
      {
        note: '111 g of Cedar oil went in instead of 92.9 g, 18.1 g too much; 92.0 to 93.8 g is good',
        position: 1,
        targets: [],
        by: 'Ben',
        at: lines[0]!.entries[1]!.at,
      },
      {
        note: '30 g of Cedar oil went in instead of 40 g, 10 g too little; 39.6 to 40.4 g is good',
        position: 2,
        targets: [],
        by: 'Ann',
        at: lines[1]!.entries[0]!.at,
      },
    ]);
    expect(lines.map(({ isOff }) => isOff)).toEqual([true, true, false]);
    const paper = seen(await pageText(app, '/batches/R-1/record'));
    expect(paper).toContain('Line 1: 111 g of Cedar oil went in instead of 92.9 g, 18.1 g too much');
    expect(paper).not.toContain('None.');
    for (const { movement } of lines[0]!.entries) await correct(movement!);
    expect((await record('R-1')).deviations.map(({ position }) => position)).toEqual([2]);
  });
});

describe('more than the book holds of a lot', () => {
  it('is asked about first, and nothing is found until it is said', async () => {
    await openBatch(app, 'F-1', [{ item: 'OIL', quantity: 150_000 }]);
    const little = await receive('OIL', 100_000, { costE4: 1000 });
    const { body } = await send('F-1', { lot: little, quantity: '150 g' });
    expect([body.code, body.asks, body.booked]).toEqual([
      'more-than-booked',
      ['found'],
      { lot: little, onHand: 100_000, typed: 150_000 },
    ]);
    expect(body.detail).toBe(
      `The book holds 100 g of lot ${little}, and 150 g is typed. If 50 g more than that was there, say so.`,
    );
    expect(await moves(little)).toEqual([['receipt', 100_000, 1000]]);
  });

  it('goes back with the weighing, in parts and all, and what it was worth comes back', async () => {
    await openBatch(app, 'F-2', [{ item: 'OIL', quantity: 150_000 }]);
    const little = await receive('OIL', 100_000, { costE4: 1000 });
    await done(`/api/lots/${little}/reservations`, { batch: 'F-2', position: 1, quantity: 60_000 });
    const { movements, foundMore } = await weigh('F-2', { lot: little, quantity: '150 g', found: true });
    expect([movements.length, foundMore]).toEqual([2, 50_000]);
    const { corrections } = await correct(movements[0]!);
    expect(corrections.map(({ quantity }) => quantity)).toEqual([90_000, 60_000, -50_000]);
    expect(await lot(little)).toMatchObject({ onHand: 100_000, reserved: 60_000, valueE4: 1000 });
    expect(await inLine('F-2')).toBe(0);
    expect(await refused(`/api/movements/${movements[1]}/correct`, { reason: 'x' })).toBe('409 already-corrected');
    // weighed anew as it was, the lot is as the book says
    await weigh('F-2', { lot: little, quantity: '15 g' });
    expect(await lot(little)).toMatchObject({ onHand: 85_000 });
  });

  it('is not taken back by itself, and what was counted since stays', async () => {
    await openBatch(app, 'F-3', [{ item: 'OIL', quantity: 150_000 }]);
    const little = await receive('OIL', 100_000);
    const { movements } = await weigh('F-3', { lot: little, quantity: '150 g', found: true });
    await done('/api/counts', { reason: 'looked again', lots: [{ lot: little, counted: '70 g' }] });
    const found = (
      await app.database.query<{ id: number }>('select found_id as id from movement where id = $1', [movements[0]])
    )[0]!.id;
    expect(await refused(`/api/movements/${found}/correct`, { reason: 'x' })).toBe('409 not-corrected');
    await correct(movements[0]!);
    expect(await lot(little)).toMatchObject({ onHand: 170_000 });
  });

  it('stays where a plain count found it', async () => {
    await openBatch(app, 'F-4', [{ item: 'OIL', quantity: 120_000 }]);
    const little = await receive('OIL', 100_000);
    await done('/api/counts', { reason: 'month end', lots: [{ lot: little, counted: '120 g' }] });
    const { movements } = await weigh('F-4', { lot: little, quantity: '120 g' });
    await correct(movements[0]!);
    expect(await lot(little)).toMatchObject({ onHand: 120_000 });
  });
});

describe('the sheet of a batch', () => {
  it('takes a number alone in the unit of its target, another unit as typed, and its own example as it stands', async () => {
    for (const [at, typed, mg] of [
      [1, '1.69', 1_690_000],
      [2, '1690 g', 1_690_000],
      [3, '1,69 kg', 1_690_000],
      [4, 'ST,GS,+  1690.0 g\r', 1_690_000],
    ] as const) {
      const code = `U-${at}`;
      await openBatch(app, code, [{ item: 'OIL', quantity: 1_690_000 }]);
      const answer = await press(code, await pageText(app, `/batches/${code}`), { lot: oil, quantity: typed });
      expect([answer.status, await inLine(code)], typed).toEqual([303, mg]);
    }
    for (const [at, target] of [
      [5, 1_690_000],
      [6, 509_275],
    ] as const) {
      await openBatch(app, `U-${at}`, [{ item: 'OIL', quantity: target }]);
      const page = await pageText(app, `/batches/U-${at}`);
      expect(page).toContain('inputmode="decimal"');
      expect(page).toContain(`data-unit="quantity-unit">${at === 5 ? 'kg' : 'g'}</span>`);
      const example = /id="weigh-quantity-hint">[^<]* such as ([^<]*), it counts/.exec(page)![1]!;
      expect((await press(`U-${at}`, page, { lot: oil, quantity: example })).status, example).toBe(303);
      expect(await inLine(`U-${at}`)).toBe(target);
    }
  });

  it('keeps the unit something was typed in, though the target is shown in another meanwhile', async () => {
    await openBatch(app, 'U-7', [{ item: 'OIL', quantity: 999_500 }]);
    const form = { position: '1', lot: oil, quantity: '1', 'quantity-unit': 'kg' };
    expect((await sendForm(app, '/batches/U-7/weigh', form)).status).toBe(303);
    expect(await inLine('U-7')).toBe(1_000_000);
  });

  it('says the range that is good, no finer than the scale, on the page and on paper', async () => {
    await openBatch(app, 'U-8', [{ item: 'OIL', quantity: 509_275 }]);
    for (const page of ['/batches/U-8', '/batches/U-8/sheet']) {
      const text = seen(await pageText(app, page));
      expect(text).toContain('509.275 g: 504.2 to 514.3 g is good');
      expect(text).not.toContain('give or take');
    }
  });

  it('asks what is off and what was not in the book at once, and writes it when the same is sent once more', async () => {
    await openBatch(app, 'U-9', [{ item: 'OIL', quantity: 92_900 }]);
    const little = await receive('OIL', 100_000);
    const typed = { lot: little, quantity: '110' };
    const asked = await press('U-9', await pageText(app, '/batches/U-9'), typed);
    expect([asked.status, await inLine('U-9')]).toEqual([409, 0]);
    for (const words of [
      '110 g of Cedar oil is typed; 92.0 to 93.8 g is good',
      'The book holds 100 g',
      'Nothing is written yet',
    ])
      expect(seen(asked.text)).toContain(words);
    // something else typed is asked about anew
    const other = await press('U-9', asked.text, { ...typed, quantity: '1100' });
    expect([other.status, await inLine('U-9')]).toEqual([409, 0]);
    const again = await press('U-9', await pageText(app, '/batches/U-9'), typed);
    const written = await press('U-9', again.text, {});
    expect([written.status, await inLine('U-9')]).toEqual([303, 110_000]);
    expect(await lot(little)).toMatchObject({ onHand: 0 });
  });

  it('has the lot that is set aside, lets one be chosen of several, and takes another', async () => {
    const [first, second] = [await receive('OIL', 60_000, { place: 'shelf 1' }), await receive('OIL', 60_000)];
    const aside = (code: string, batch: string, quantity: number) =>
      done(`/api/lots/${code}/reservations`, { batch, position: 1, quantity });
    await openBatch(app, 'L-1', [{ item: 'OIL', quantity: 50_000 }]);
    await aside(first, 'L-1', 50_000);
    expect((await press('L-1', await pageText(app, '/batches/L-1'), { quantity: '50' })).status).toBe(303);
    expect((await record('L-1')).lines[0]!.entries.map((entry) => entry.lot)).toEqual([first]);
    await openBatch(app, 'L-2', [{ item: 'OIL', quantity: 40_000 }]);
    await aside(first, 'L-2', 10_000);
    await aside(second, 'L-2', 30_000);
    const page = await pageText(app, '/batches/L-2');
    expect(
      [...page.matchAll(/<option value="([^"]*)"[^>]*>([^<]+)</g)].map(([, code, words]) => [code, words]),
    ).toEqual([
      [first, `${first}, 10 g, shelf 1`],
      [second, `${second}, 30 g`],
    ]);
    expect((await press('L-2', page, { aside: second, quantity: '30' })).status).toBe(303);
    const rest = await pageText(app, '/batches/L-2');
    expect((await press('L-2', rest, { lot: oil, quantity: '10', further: 'yes' })).status).toBe(303);
    expect((await record('L-2')).lines[0]!.entries.map((entry) => entry.lot)).toEqual([second, oil]);
  });
});

describe('a batch whose lot is put on hold', () => {
  it('says so first on every page that says how far it is, and what to do, until it is no longer so', async () => {
    await openBatch(app, 'H-1', [{ item: 'OIL', quantity: 50_000 }]);
    const mine = await receive('OIL', 60_000);
    await done(`/api/lots/${mine}/reservations`, { batch: 'H-1', position: 1, quantity: 50_000 });
    const pages = ['/batches/H-1', '/batches/H-1/record', '/bench'];
    const states = async () =>
      Promise.all(
        pages.map(async (page) => {
          const text = seen(await pageText(app, page));
          return page === '/bench' ? /H-1 .*? days? ago|H-1 .{0,160}/.exec(text)![0] : text;
        }),
      );
    for (const text of await states()) expect(text.toLowerCase()).toContain('lots set aside');
    await done(`/api/lots/${mine}/status`, { to: 'held', why: 'smells odd' });
    const [sheet, paper, board] = await states();
    expect(sheet).toContain('a lot of it is on hold');
    expect(sheet).toContain(`Lot ${mine} is on hold. It was set aside for this batch and no longer is`);
    expect(sheet).not.toContain('lots set aside');
    expect(paper).toContain('State a lot of it is on hold');
    expect(board).toContain(`a lot of it is on hold Decide about lot ${mine}`);
    expect(await get('/api/batches/H-1')).toMatchObject({ onHold: [mine] });
    // another takes its place
    const { movements } = await weigh('H-1', { lot: oil, quantity: '50 g' });
    expect(await get('/api/batches/H-1')).toMatchObject({ onHold: [] });
    // what is in is put on hold too
    await correct(movements[0]!);
    await done(`/api/lots/${mine}/status`, { to: 'released', why: 'aired' });
    await weigh('H-1', { lot: mine, quantity: '50 g' });
    await done(`/api/lots/${mine}/status`, { to: 'held', why: 'smells odd' });
    expect(seen(await pageText(app, '/batches/H-1'))).toContain(`Lot ${mine} is on hold. It is in this batch`);
  });
});
