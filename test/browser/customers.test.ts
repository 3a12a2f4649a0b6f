import { beforeAll, describe, expect, it } from 'vitest';
import type { ComplaintView } from '../../src/trace/complaint.schema.js';
import { expectSound, expectSoundEverywhere, useBrowser, WIDTHS } from '../support/browser.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';

const app = useBrowser({ demo: false, today: '2029-06-01' });
/** A long line without a space, which must not make a page wider than the window. */
const LONG = 'x'.repeat(300);

beforeAll(async () => {
  const shop = new TracedShop(app.app.database);
  await shop.open();
  await shop.buy('WAX', 'WAX-1', 1_000_000);
  await shop.make('CANDLE', 'CAN-1', [['WAX-1', 10_000]], 50);
  for (const width of WIDTHS) {
    await shop.order(`N-${width}`, `Rose of ${width}`, 4, [['CAN-1', 4]]);
    await complain(width, `Rose of ${width} saw Rosemary's candle soot\n${LONG}`);
  }
  await app.app.database.query(`update customer_order set status = 'fulfilled'`);
});

async function complain(width: number, description: string): Promise<void> {
  const order = { channel: 'shop', number: `N-${width}` };
  const shelf = shelfOf(app.app);
  const { code } = await shelf.done<ComplaintView>('/api/complaints', { order, description, harm: 'none' });
  await shelf.done(`/api/complaints/${code}/entries`, { kind: 'closed', text: 'answered' });
}

describe('a customer who asks to be forgotten', () => {
  it('has a page that is sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, '/customers');
    await expectSoundEverywhere(app, '/customers/1');
  });

  it.each(WIDTHS)(
    'is found from the complaints, looked through and erased without a script, at %i px',
    async (width) => {
      const page = await app.open('/complaints', { width, javaScript: false });
      await page.getByRole('link', { name: 'Customers' }).click();
      await page.getByLabel('A part of the name').fill(`Rose of ${width}`);
      await page.getByRole('button', { name: 'Show' }).click();
      await page.getByRole('link', { name: `Rose of ${width}` }).click();
      const row = page.locator('tr', { hasText: /C29-00\d, description/ });
      expect(await row.textContent()).toMatch(
        new RegExp(`Rose of ${width} saw Rosemary's candle soot.*\\(erased\\) saw Rosemary's candle soot`, 's'),
      );
      await page.getByLabel('Why').fill(`Rose of ${width} wrote`);
      await page.getByRole('button', { name: 'Erase them' }).click();
      expect(await page.textContent('[role=alert]')).toContain('names them');
      await page.getByLabel('Why').fill('asked by letter');
      await page.getByRole('button', { name: 'Erase them' }).click();
      await page.waitForURL('**/customers/*?said=erased');
      expect(await page.textContent('main')).toMatch(/erased \d+.*What they got is still found/s);
      expect(await page.textContent('main')).not.toContain('Rose');
    },
  );

  it('is waited for while an order is open, which the page names', async () => {
    await new TracedShop(app.app.database).order('OPEN-1', 'Ida', 4, []);
    const page = await app.open('/customers?search=Ida', { width: 390 });
    await page.getByRole('link', { name: 'Ida', exact: true }).click();
    expect(await page.textContent('main')).toContain('Of their orders shop/OPEN-1 is open');
    expect(await page.getByRole('button', { name: 'Erase them' }).count()).toBe(0);
    await expectSound(page);
  });
});
