import { describe, expect, it } from 'vitest';
import type { LotPage } from '../../src/stock/stock.schema.js';
import { expectSound, expectSoundEverywhere, useBrowser } from '../support/browser.js';

const app = useBrowser();

/** Leaves a part of a lot's item as if the rest had been spilt. */
async function spill(item: string, part: number): Promise<void> {
  const { lots } = (await app.app.request<LotPage>('GET', `/api/lots?item=${item}`)).body;
  for (const lot of lots) {
    const body = { quantity: Math.floor(lot.onHand * part), reason: 'spilt' };
    expect((await app.app.request('POST', `/api/lots/${lot.code}/scrap`, body)).status).toBe(201);
  }
}

describe('what to reorder', () => {
  it('says what runs out when, draws it, and lists fragrances first', async () => {
    await spill('RM-SOLUB', 0.9);
    await spill('JAR-220', 0.9);
    const page = await app.open('/reorder', { width: 390 });
    expect(await page.locator('h2').allTextContents()).toEqual([
      'Fragrances',
      'Containers',
      'Labels',
      'Everything else',
      'Order together',
    ]);
    // which fragrances, how many packs, by which day
    expect(await page.locator('h1 + p').textContent()).toMatch(
      /^Order \d fragrances, \d+ packs: .*Moss Wall fragrance by Tue 17 Nov, which is past; .+ \d more come along, .+ In all \d+ items before the next look in 7 days, €[\d.,]+ without freight/,
    );
    const moss = page.getByRole('row', { name: /^Moss Wall fragrance/ });
    expect(await moss.textContent()).toContain('which is past');
    expect(await moss.textContent()).toContain('3 × MOSS-4OZ');
    // what happens if it is not ordered, and the band around the line
    expect(await moss.textContent()).toContain('85 g free; 127.9 g to be kept, 1159.8 g wanted');
    expect(await moss.textContent()).toContain('From Tue 15 Dec it is missing for 1 order line (wholesale W-2302');
    expect(await moss.locator('svg path.band').count()).toBe(1);
    expect(await moss.locator('svg title').textContent()).toBe(
      'Moss Wall fragrance: 85 g free today, 903.9 g short on Fri 8 Jan if nothing is ordered',
    );
    // under what is kept for a week only: what is on the way puts that right
    const tea = await page.getByRole('row', { name: /^Black Tea Steam/ }).textContent();
    expect(tea).toMatch(
      /From Thu 26 Nov until Thu 3 Dec, when what is on the way can be used, less is left than the [\d.]+ g/,
    );
    // beside the jars on the way
    const jars = await page.getByRole('row', { name: /^Candle jar/ }).textContent();
    expect(jars).toContain('10 free, 96 on the way');
    expect(jars).toContain('5 × J220-24');
    await expectSound(page);
  });

  it('has a plain list for each supplier, to copy and to print', async () => {
    const page = await app.open('/reorder');
    await page.getByRole('link', { name: 'List for Brindlemoor Aromatics' }).click();
    await page.waitForURL('**/reorder?supplier=BRINDLE');
    const text = await page.getByLabel('The order as text').inputValue();
    const order = /^Order of Quarry Lane Workshop, Wed 25 Nov 2026\n\n(?:\d+ × \S+, .+ each\n)+Total (€[\d.,]+)$/.exec(
      text,
    );
    expect(order, text).not.toBeNull();
    expect(text).toContain('3 × MOSS-4OZ, Moss Wall fragrance, 117.4 g each');
    expect(await page.getByRole('button', { name: 'Copy it' }).isVisible()).toBe(true);
    expect(await page.textContent('tfoot')).toContain(order![1]!);
    await app.app.request('POST', '/api/suppliers', { code: 'IDLE', name: 'Idle Hands Labels' });
    const plain = await app.open('/reorder?supplier=IDLE', { javaScript: false });
    expect(await plain.textContent('main')).toContain('Nothing has to be ordered from them now.');
    expect(await plain.getByRole('button', { name: 'Copy it' }).count()).toBe(0);
    expect((await app.app.request('GET', '/reorder?supplier=NOBODY')).status).toBe(404);
  });

  it('asks what is known of an item, and goes by it until its own use says enough', async () => {
    await app.app.request('POST', '/api/items', {
      code: 'RM-FIG',
      name: 'Fig Wood fragrance',
      kind: 'material',
      family: 'fragrance',
      measure: 'weighed',
    });
    const pack = {
      supplier: 'BRINDLE',
      item: 'RM-FIG',
      code: 'FIGW-4OZ',
      size: '4 oz',
      priceE4: 190_000,
      leadDays: 14,
    };
    expect((await app.app.request('POST', '/api/packs', pack)).status).toBe(201);
    const page = await app.open('/shelf/items/RM-FIG', { width: 390 });
    await page.getByRole('link', { name: 'How fast it goes' }).click();
    expect(await page.textContent('main')).toContain('There is too little past use to go by and nothing is said of it');
    await page.getByLabel('What speaks for it').selectOption('My estimate');
    await page.getByLabel('So much is used').fill('none');
    await page.getByRole('button', { name: 'Write it down' }).click();
    // the fault stands beside its field, and what was written is still there
    expect(await page.getByLabel('So much is used').getAttribute('aria-invalid')).toBe('true');
    expect(await page.getByLabel('So much is used').inputValue()).toBe('none');
    await page.getByLabel('So much is used').fill('120');
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.waitForURL('**/reorder/items/RM-FIG?said=written');
    expect(await page.textContent('h1 ~ p:not(.note)')).toBe(
      'From the estimate: 120 g next week; no week of its own counts yet.',
    );
    expect(await page.getByLabel('So much is used').inputValue()).toBe('120 g');
    await page.getByRole('link', { name: 'Why so much is to be ordered' }).click();
    expect(await page.textContent('h1')).toMatch(/^Why order [\d.,]+ g of Fig Wood fragrance\?$/);
    expect(await page.textContent('main')).toContain('From the estimate: 120 g next week');
    await page.goto(page.url().replace(/\/why.*/, '/reorder/items/RM-FIG'));
    await page.getByLabel('What speaks for it').selectOption('It goes like another one');
    await page.getByLabel('Goes like').fill('FO-MOSS');
    await page.getByLabel('As much as that, in percent').fill('80');
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.waitForURL('**/reorder/items/RM-FIG?said=written');
    expect(await page.textContent('main')).toMatch(/From what is used of FO-MOSS: [\d.]+ g next week/);
    await page.getByLabel('What speaks for it').selectOption('Nothing but its own use');
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.getByText('nothing is said of it').waitFor();
    expect(await page.getByLabel('Goes like').inputValue()).toBe('');
  });

  it('is sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, '/reorder');
    await expectSoundEverywhere(app, '/reorder?supplier=BRINDLE');
    await expectSoundEverywhere(app, '/reorder/items/RM-SOLUB');
  });
});
