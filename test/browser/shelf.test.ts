import { describe, expect, it } from 'vitest';
import type { LotView } from '../../src/stock/stock.schema.js';
import { expectSound, expectSoundEverywhere, useBrowser } from '../support/browser.js';

const app = useBrowser();

/** A lot of its own, so that tests do not meet. */
async function freshLot(item: string, quantity: string | number, rest: Record<string, unknown> = {}): Promise<string> {
  const answer = await app.app.request<LotView>('POST', '/api/lots', { item, quantity, ...rest });
  expect(answer.status, answer.text).toBe(201);
  return answer.body.code;
}

describe('the shelf', () => {
  it('keeps its filters in the address and goes on by pages', async () => {
    const page = await app.open('/shelf');
    await expectSound(page);
    await page.getByLabel('Family').selectOption('fragrance');
    await page.getByLabel('Name or code').fill('citrus');
    await page.getByRole('button', { name: 'Show' }).click();
    await page.waitForURL('**/shelf?family=fragrance&search=citrus&only=');
    expect(await page.locator('tbody tr').count()).toBe(1);
    expect(await page.locator('tbody tr').textContent()).toContain('2.12 kg');
    await page.goBack();
    await page.getByRole('link', { name: 'Next items' }).click();
    await page.waitForURL('**/shelf?after=*');
    const first = await page.locator('tbody th a').first().textContent();
    expect(first! > 'L').toBe(true);
  });

  it('shows only what runs low or is soon over, and teaches when nothing is', async () => {
    const low = await app.open('/shelf?only=low&family=base');
    expect(await low.locator('tbody').textContent()).toContain('under its 9 kg');
    const soon = await app.open('/shelf?only=expiring');
    expect(await soon.locator('tbody tr').allTextContents()).toEqual([expect.stringContaining('a lot is soon over')]);
    const none = await app.open('/shelf?search=no+such+thing');
    expect(await none.textContent('main')).toContain('Nothing on the shelf is like that.');
  });

  it('takes a lot in on a phone without JavaScript, and says beside the field what is wrong', async () => {
    const page = await app.open('/shelf/items/FO-PINE', { width: 390, javaScript: false });
    await page.getByLabel('How much').fill('12 teaspoons');
    await page.getByLabel('What all of it cost').fill('40.50');
    await page.getByLabel('Lies in').fill('scent cupboard');
    await page.getByRole('button', { name: 'Take it in' }).click();
    const field = page.getByLabel('How much');
    expect(await field.inputValue()).toBe('12 teaspoons');
    const described = (await field.getAttribute('aria-describedby'))!.split(' ').at(-1)!;
    expect(await page.textContent(`#${described}`)).toContain('"teaspoons" is not a unit used here');
    expect(await page.getByLabel('What all of it cost').inputValue()).toBe('40.50');
    await field.fill('454');
    await page.getByRole('button', { name: 'Take it in' }).click();
    expect(await page.textContent('[role=status]')).toContain('It is taken in');
    expect(await page.textContent('dl')).toContain('454 g');
    expect(await page.textContent('dl')).toContain('€40.50');
  });

  it('is sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await freshLot('FO-LAV', '80 g', { code: 'OLD-LAV', receivedOn: '2025-11-01', expiresOn: '2026-11-01' });
    await expectSoundEverywhere(app, '/shelf');
    await expectSoundEverywhere(app, '/shelf/items/FO-LAV');
    await expectSoundEverywhere(app, '/shelf/lots/OLD-LAV');
  });
});

describe('a lot', () => {
  it('says whose set-aside a hold took back', async () => {
    const lot = await freshLot('SP-PINE-100', 30, { code: 'PINE-HELD' });
    await app.app.request('POST', '/api/orders', {
      channel: 'market',
      number: 'F-1',
      lines: [{ code: 'SP-PINE-100', quantity: 5, shipBy: '2026-12-20' }],
    });
    const orderLine = { channel: 'market', number: 'F-1', code: 'SP-PINE-100' };
    const kept = await app.app.request('POST', `/api/lots/${lot}/reservations`, { quantity: 4, orderLine });
    expect(kept.status, kept.text).toBe(201);
    const page = await app.open(`/shelf/lots/${lot}`);
    expect(await page.textContent('main')).toContain('Order market F-1');
    await page.getByText('Put it on hold').first().click();
    await page.locator('details[open]').getByLabel('Why').fill('a customer saw haze');
    await page.getByRole('button', { name: 'Decide' }).click();
    expect(await page.textContent('[role=status]')).toContain('The lot is on hold');
    expect(await page.textContent('[role=alert]')).toContain('4 for order market F-1, needed on Sun 20 Dec');
    expect(await page.textContent('table:last-of-type')).toContain('a customer saw haze');
    await expectSound(page);
    await page.reload();
    expect(await page.textContent('[role=alert]')).toContain('4 for order market F-1');
  });

  it('is taken from, counted and split, each with the ledger behind it', async () => {
    const lot = await freshLot('RM-SHEA', '900 g', { code: 'SHEA-1', costE4: 90_000 });
    const page = await app.open(`/shelf/lots/${lot}`, { width: 390 });
    const act = async (fold: string, fill: Record<string, string>, button: string) => {
      await page.getByText(fold).first().click();
      for (const [label, text] of Object.entries(fill))
        await page.locator('details[open]').getByLabel(label).fill(text);
      await page.getByRole('button', { name: button }).click();
      return page.textContent('[role=status]');
    };
    expect(await act('Take some out', { 'How much': '150', Why: 'mould on it' }, 'Write it down')).toContain(
      '750 g are left',
    );
    expect(await act('Count it', { 'Really there': '740.5 g', Why: 'unsure' }, 'Write the count down')).toContain(
      '9.5 g less than the book had',
    );
    const split = { 'How much': '200', 'Where it goes': 'fair box', Why: 'for the fair' };
    expect(await act('Split a part off', split, 'Split it off')).toContain('A part is split off');
    const balances = await page.locator('section:last-of-type td[data-label="Then on hand"]').allTextContents();
    expect(balances).toEqual(['540.5 g', '740.5 g', '750 g', '900 g']);
    await page.locator('[role=status] a').click();
    expect(await page.textContent('dl')).toContain('fair box');
    expect(await page.textContent('dl')).toContain('200 g');
  });

  it('refuses to give more than it has, and keeps what was written', async () => {
    const lot = await freshLot('RM-SHEA', '100 g', { code: 'SHEA-2' });
    const page = await app.open(`/shelf/lots/${lot}`, { javaScript: false });
    await page.getByText('Take some out').click();
    await page.locator('details[open]').getByLabel('How much').fill('2 kg');
    await page.locator('details[open]').getByLabel('Why').fill('spilt');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(await page.textContent('[role=alert]')).toContain('If there is more on the shelf, count it first');
    expect(await page.locator('details[open]').getByLabel('How much').inputValue()).toBe('2 kg');
  });
});

describe('a count of a shelf', () => {
  it('posts what differs and says what it broke', async () => {
    const place = 'count cupboard';
    const [full, less] = [await freshLot('BT-030', 40, { place }), await freshLot('BT-060', 24, { place })];
    await freshLot('BT-250', 9, { place });
    const page = await app.open('/shelf/count', { width: 390 });
    await page.getByRole('link', { name: place }).click();
    await page.getByLabel(`lot ${full}`).fill('40');
    await page.getByLabel(`lot ${less}`).fill('a few');
    await page.getByLabel('Why').fill('month end');
    await page.getByRole('button', { name: 'Write the count down' }).click();
    expect(await page.locator(`#fault-${less}`).textContent()).toContain('does not begin with a number');
    await page.getByLabel(`lot ${less}`).fill('21');
    await page.getByRole('button', { name: 'Write the count down' }).click();
    await page.waitForURL('**/shelf/count/*');
    expect(await page.textContent('[role=status]')).toContain('1 difference in 2 lots');
    expect(await page.locator('tr').filter({ hasText: less }).textContent()).toContain('-3');
    expect(await page.textContent('main')).toContain('Not counted there: 1 lot');
    expect((await app.app.request<LotView>('GET', `/api/lots/${less}`)).body.onHand).toBe(21);
  });

  it('is sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, '/shelf/count');
    await expectSoundEverywhere(app, '/shelf/count?place=drums');
  });
});
