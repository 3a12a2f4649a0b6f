import { describe, expect, it } from 'vitest';
import type { ChecksView } from '../../src/checks/checks.schema.js';
import type { PickList, PickOrder } from '../../src/shipping/pick.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { expectSound, expectSoundEverywhere, useBrowser, WIDTHS } from '../support/browser.js';
import { exif, jpeg } from '../support/pictures.js';
import { readPdf } from '../support/printed.js';

const app = useBrowser();
const main = (page: { textContent(selector: string): Promise<string | null> }) => page.textContent('main');
const get = async <Body>(url: string) => (await app.app.request<Body>('GET', url)).body;
const orders = async () => (await get<PickList>('/api/pick-list')).orders;

async function lotOf(item: string, quantity: number, rest: object = {}): Promise<string> {
  const answer = await app.app.request<LotView>('POST', '/api/lots', { item, quantity, ...rest });
  expect(answer.status, answer.text).toBe(201);
  return answer.body.code;
}

/** An order of ours for the day after, so that it stands among the first. */
async function orderOf(number: string, lines: { code: string; quantity: number }[]): Promise<void> {
  const body = { channel: 'webshop', number, lines: lines.map((line) => ({ ...line, shipBy: '2026-11-26' })) };
  expect((await app.app.request('POST', '/api/orders', body)).status).toBe(201);
}

describe('packing', () => {
  it('shows what has to go, the first first, with where it stands, on every screen', async () => {
    await expectSoundEverywhere(app, '/pick');
    const list = await orders();
    const page = await app.open('/pick', { width: 390, javaScript: false });
    const names = await page.locator('.card h2').allTextContents();
    expect(names.length).toBeGreaterThan(5);
    expect(names[0]).toContain(list[0]!.number);
    await page.getByLabel('To go by').fill('2026-11-20');
    await page.getByRole('button', { name: 'Show' }).click();
    expect(await page.locator('.card').count()).toBe(list.filter(({ shipBy }) => shipBy <= '2026-11-20').length);
  });

  it.each(WIDTHS)('takes a mis-scanned lot for what it is, then sends the parcel, at %i px', async (width) => {
    const [spray, candle] = [await lotOf('SP-FIG-100', 4, { place: 'shelf 7' }), await lotOf('CA-FIG-120', 2)];
    const number = `SHIP-${width}`;
    await orderOf(number, [{ code: 'SP-FIG-100', quantity: 2 }]);
    const page = await app.open(`/pick/webshop/${number}`, { width });
    await expectSound(page);
    expect(await main(page)).toContain('carriers restrict it or refuse it');
    const lot = page.getByLabel('Lot', { exact: true }).first();
    const meant = await lot.inputValue();
    await lot.fill(candle);
    await page.getByRole('button', { name: 'It is packed and sent' }).click();
    expect(await page.textContent('[role=alert]')).toContain(`Lot ${candle} is of CA-FIG-120`);
    await lot.fill('NO-SUCH-LOT');
    await page.getByRole('button', { name: 'It is packed and sent' }).click();
    const described = await lot.getAttribute('aria-describedby');
    expect(await page.locator(`[id="${described}"]`).textContent()).toContain('There is no lot NO-SUCH-LOT');
    // another lot than was meant, in its own row, and the first row left empty
    await lot.fill(meant);
    await page.getByLabel('Pieces').first().fill('');
    await page.getByLabel('Another lot').fill(spray);
    await page.getByLabel('Pieces').last().fill('2');
    await page.getByRole('button', { name: 'It is packed and sent' }).click();
    await page.waitForURL('**/pick?sent=*');
    expect(await page.textContent('[role=status]')).toContain('written down as sent');
    const slip = await page.getByRole('link', { name: 'Print its packing slip' }).getAttribute('href');
    const [paper] = await readPdf((await app.app.app.inject({ method: 'GET', url: slip! })).rawPayload);
    expect(paper!.text).toContain(`Order ${number}`);
    expect(paper!.text).toContain(spray);
    expect(await get<LotView>(`/api/lots/${spray}`)).toMatchObject({ onHand: 2 });
    expect((await orders()).some((order) => order.number === number)).toBe(false);
    // and one of it comes back, held apart
    await page.goto(`${app.base}/orders/webshop/${number}`);
    await page.getByText('Something came back').click();
    await page.getByLabel('How many', { exact: true }).fill('3');
    await page.getByLabel('Why').fill('a broken pump');
    await page.getByRole('button', { name: 'Take it back' }).click();
    expect(await page.textContent('[role=alert]')).toContain('only 2 was sent');
    await page.getByLabel('How many', { exact: true }).fill('1');
    await page.getByRole('button', { name: 'Take it back' }).click();
    await page.waitForURL('**?said=returned');
    const { lots } = await get<{ lots: LotView[] }>('/api/lots?item=SP-FIG-100&limit=500');
    expect(lots.find(({ parentLot }) => parentLot === spray)).toMatchObject({ status: 'held', onHand: 1 });
  });

  it('sends a part, and puts a set together, on a phone without JavaScript', async () => {
    await lotOf('SP-SMOKE-100', 9);
    await lotOf('CA-FIG-120', 9);
    await lotOf('SO-OAT-110', 9);
    await lotOf('BX-GIFT', 9);
    const held = (await orders()).flatMap(({ lines }) => lines).find(({ item }) => item === 'GIFT-HEARTH');
    const already = held?.picks.reduce((sum, { quantity }) => sum + quantity, 0) ?? 0;
    await orderOf('SET-1', [{ code: 'GIFT-HEARTH', quantity: 40 }]);
    const find = async (): Promise<PickOrder> => (await orders()).find(({ number }) => number === 'SET-1')!;
    const [line] = (await find()).lines;
    expect(line!.packs!.quantity).toBeGreaterThan(0);
    const page = await app.open('/pick/webshop/SET-1', { width: 390, javaScript: false });
    await expectSoundEverywhere(app, '/pick/webshop/SET-1');
    for (const pieces of await page.locator('input[name*="/lots/"][name$="/quantity"]').all()) await pieces.fill('');
    await page.getByLabel('Put together now, of the parts below').fill('1');
    // so many parts are for more than one
    await page.getByRole('button', { name: 'It is packed and sent' }).click();
    if (line!.packs!.quantity > 1) expect(await page.textContent('[role=alert]')).toContain('cannot be packed of');
    const seen = new Set<string>();
    for (const [n, { item }] of line!.packs!.parts.entries()) {
      const pieces = page.locator(`input[name="lines/0/parts/${n}/quantity"]`);
      if (await pieces.count()) await pieces.fill(seen.has(item) ? '' : '1');
      seen.add(item);
    }
    if (page.url().includes('/pick/')) await page.getByRole('button', { name: 'It is packed and sent' }).click();
    expect(page.url()).toContain('/pick?sent=');
    expect((await find()).lines[0]!.open).toBe(39);
    expect(already).toBeGreaterThanOrEqual(0);
  });
});

describe('labels', () => {
  it.each(WIDTHS)('say what is stated, and are printed or say why not, at %i px', async (width) => {
    const lot = await lotOf('MI-LAV-100', 12, { expiresOn: '2027-09-01' });
    await expectSoundEverywhere(app, '/labels');
    const page = await app.open('/labels', { width, javaScript: false });
    await page.getByLabel('Of which lot').fill(lot);
    await page.getByRole('button', { name: 'Show its label' }).click();
    await page.waitForURL(`**/labels/${lot}`);
    expect(await main(page)).toContain('Local law decides what a label must show');
    await page.getByText('What the labels of MI-LAV-100 state').click();
    await page.getByLabel('Contents', { exact: true }).fill('a hundred');
    await page.getByLabel('Allergens are named', { exact: true }).selectOption('leave-on');
    await page.getByLabel('Who made it, and where').fill('Quarry Lane Workshop <img src=x onerror=alert(1)>');
    await page.getByRole('button', { name: 'Write it down' }).first().click();
    const wrong = page.getByLabel('Contents', { exact: true });
    expect(
      await page.locator(`[id="${(await wrong.getAttribute('aria-describedby'))!.split(' ').at(-1)}"]`).textContent(),
    ).toContain('does not begin with a number');
    await wrong.fill('100 ml');
    await page.getByRole('button', { name: 'Write it down' }).first().click();
    expect(await main(page)).toContain('100 ml / 3.38 fl oz');
    expect(await page.locator('main img[src=x]').count()).toBe(0);
    const material = page
      .locator('details')
      .filter({ hasText: /^Allergens in/ })
      .first();
    await material.locator('summary').click();
    await material.locator('textarea').fill('Linalool 30 %\nLimonene 0.01');
    await material.getByLabel('Where the figures stand').fill('supplier, issue 3');
    await material.getByLabel('Of which day').fill('2026-01-01');
    await material.getByRole('button', { name: 'Write it down' }).click();
    expect(await main(page)).toContain('Contains: Linalool');
    await expectSoundEverywhere(app, `/labels/${lot}`);
    await page.getByLabel('Sheet', { exact: true }).selectOption('single');
    await page.getByLabel('Width of a single one, mm').fill('20');
    await page.getByRole('button', { name: 'Make the PDF' }).click();
    expect(await page.textContent('[role=alert]')).toContain('does not fit on 20 x 37 mm');
    const query = 'sheet=a4-99x68&copies=3&skip=2&width=70&height=37&bars=yes';
    const print = await app.app.app.inject({ method: 'GET', url: `/labels/${lot}/labels.pdf?${query}` });
    const [sheet] = await readPdf(print.rawPayload);
    expect(sheet!.texts.filter(({ text }) => text === `Lot ${lot}`)).toHaveLength(3);
  });
});

describe('checks', () => {
  it.each(WIDTHS)('are written down at the bench with a photo, and say what is missing, at %i px', async (width) => {
    const run = await app.app.request<{ id: number }>('POST', '/api/runs', {});
    await app.app.request('POST', `/api/runs/${run.body.id}/commit`);
    const { batches } = await get<{ batches: { code: string; item: string; status: string }[] }>(
      '/api/batches?limit=500',
    );
    const sprays = batches.filter(({ item, status }) => item.startsWith('BLK-SP-') && status === 'reserved');
    const batch = sprays[WIDTHS.indexOf(width)]!.code;
    const path = `/batches/${batch}/checks`;
    await expectSoundEverywhere(app, path);
    const page = await app.open(path, { width });
    expect(await main(page)).toContain('Still to check: ');
    const fold = page.locator('details#spray-clear');
    await fold.getByLabel('What it is').selectOption('hazy');
    await fold.getByLabel('Note').fill('a veil <b>at the bottom</b>');
    await fold.getByRole('button', { name: 'Write' }).click();
    expect(await page.textContent('[role=status]')).toContain('Not good: Against a light');
    expect(await fold.textContent()).toContain('a veil <b>at the bottom</b>');
    await fold.getByLabel('Photo').setInputFiles({
      name: 'veil.jpg',
      mimeType: 'image/jpeg',
      buffer: jpeg(exif(1, true, 'lat 51.5')),
    });
    await fold.getByRole('button', { name: 'Add it' }).click();
    await page.waitForURL('**/checks?said=photo');
    await page.locator('details#spray-clear > summary').click();
    // a picture that cannot be shown has no width
    await expect.poll(() => page.evaluate(`document.querySelector('img.photo').naturalWidth`)).toBe(8);
    await page.goto(app.base + path);
    await page.locator('details#spray-clear > summary').click();
    await fold.getByLabel('What it is').selectOption('clear');
    await fold.getByRole('button', { name: 'Write down what is found now' }).click();
    expect(await fold.textContent()).toContain('Found before (1');
    const view = await get<ChecksView>(`/api/batches/${batch}/checks`);
    expect(view.checks[0]!.results.map(({ choice }) => choice)).toEqual(expect.arrayContaining(['clear', 'hazy']));
    await expectSound(page);
  });

  it('judge weights that a scale types, and name the one that is wrong', async () => {
    const { batches } = await get<{ batches: { code: string; item: string }[] }>('/api/batches?limit=500');
    const batch = batches.find(({ item }) => item.startsWith('CA-'))!;
    const label = await app.app.request('PUT', `/api/items/${batch.item}/label`, {
      net: `${batch.item.split('-')[2]} g`,
    });
    expect(label.status).toBe(200);
    const grams = Number(batch.item.split('-')[2]);
    const page = await app.open(`/batches/${batch.code}/checks`, { width: 390, javaScript: false });
    const fold = page.locator('details#candle-weights');
    const weights = fold.getByLabel('Weight of each unit');
    await weights.fill(`${grams} g\nheavy\n`);
    await fold.getByRole('button', { name: 'Write it down' }).click();
    expect(await fold.locator('.fault').textContent()).toContain('heavy');
    expect(await weights.inputValue()).toContain('heavy');
    await weights.fill(
      Array<string>(12)
        .fill(String(grams + 1))
        .join('\n'),
    );
    await fold.getByRole('button', { name: 'Write it down' }).click();
    expect(await fold.textContent()).toContain('NIST Handbook 133. The rule is met.');
    expect(await fold.textContent()).toContain('local law decides');
    await expectSoundEverywhere(app, `/batches/${batch.code}/checks?said=candle-weights`);
  });
});

describe('a fair and empties', () => {
  it.each(WIDTHS)('take stock along, sell it and bring it home, at %i px', async (width) => {
    const lot = await lotOf('SO-OAT-110', 20, { expiresOn: '2028-01-31', place: 'shelf C' });
    await expectSoundEverywhere(app, '/fairs');
    const page = await app.open('/fairs', { width, javaScript: false });
    const name = `Winter market ${width}`;
    await page.getByLabel('Name of the fair').fill(name);
    await page.getByLabel('Where it stands meanwhile').fill('the stand');
    await page.getByLabel('Last day').fill('2026-12-06');
    await page.getByLabel('Lot 1', { exact: true }).fill(lot);
    await page.getByLabel('Pieces of lot 1').fill('99');
    await page.getByRole('button', { name: 'Take it along' }).click();
    expect(await page.textContent('[role=alert]')).toContain('has 20 free, not 99');
    await page.getByLabel('Pieces of lot 1').fill('12');
    await page.getByRole('button', { name: 'Take it along' }).click();
    await page.waitForURL('**/fairs/Winter*');
    const address = new URL(page.url()).pathname;
    await expectSoundEverywhere(app, address);
    await page.getByLabel(/^Sold now of lot/).fill('5');
    await page.getByRole('button', { name: 'Write the sale down' }).click();
    expect(await page.locator('tbody tr').first().textContent()).toMatch(/12\D*5\D*7/);
    await page.getByText('Bring the rest home').click();
    await page.getByRole('button', { name: 'It is home' }).click();
    expect(await main(page)).toContain('Everything is sold or home again.');
    const { lots } = await get<{ lots: LotView[] }>('/api/lots?item=SO-OAT-110&limit=500');
    expect(lots.find(({ parentLot }) => parentLot === lot)).toMatchObject({ onHand: 7, reserved: 0, place: 'shelf C' });
  });

  it('keep empties on hold until they are washed', async () => {
    await expectSoundEverywhere(app, '/empties');
    const page = await app.open('/empties', { width: 390, javaScript: false });
    await page.getByLabel('Which container').fill('so-oat-110');
    await page.getByLabel('How many').fill('12');
    await page.getByRole('button', { name: 'Take them in' }).click();
    expect(await main(page)).toContain('is no container');
    await page.getByLabel('Which container').fill('jar-220');
    await page.getByRole('button', { name: 'Take them in' }).click();
    expect(await page.textContent('[role=status]')).toContain('on hold');
  });
});
