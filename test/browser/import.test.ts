import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { expectSound, faultsOf, useBrowser, WIDTHS } from '../support/browser.js';

const app = useBrowser();
// as PostgreSQL itself soon does, while the workshop is small: plans made now suit few orders
beforeAll(() => app.app.database.query('analyze'));
const folder = mkdtempSync(join(tmpdir(), 'lotwright-import-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const file = (name: string, content: string | Buffer): string => {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
};

const lines = async (like: string): Promise<{ number: string; item: string; quantity: number }[]> =>
  app.app.database.query(
    `select o.number, i.code as item, l.quantity from order_line l join customer_order o on o.id = l.order_id
     join item i on i.id = l.item_id where o.number like $1 order by 1, 2`,
    [like],
  );

describe('a file of a shop', () => {
  it.each(WIDTHS)('is looked at, mapped and taken without JavaScript, at %i px', async (width) => {
    const csv =
      'Order no.;Article code;Pieces;Placed;Buyer;Remark\r\n' +
      `I${width}-1;SP-FIG-100;2;2026-11-20;Zo\u00eb <b>Marrick</b>;\r\n` +
      `I${width}-1;three-figs-${width};1;2026-11-20;Zo\u00eb <b>Marrick</b>;\r\n` +
      `I${width}-2;SP-CEDAR-100;one;2026-11-21;Ada Ivens;"two\r\nlines"\r\n`;
    const page = await app.open('/orders/import', { javaScript: false, width });
    await page.getByLabel('Orders of').selectOption('webshop');
    // as a spreadsheet on another system writes it: one byte a letter
    await page.getByLabel('The file').setInputFiles(file('shop.csv', Buffer.from(csv, 'latin1')));
    await page.getByRole('button', { name: 'Look at it' }).click();
    await page.waitForSelector('text=Nothing of it is written yet');
    const seen = await page.textContent('main');
    expect(seen).toContain('Order number: Order no.');
    expect(seen).toContain('Code of the item: Article code');
    expect(seen).toContain('Not read: Remark');
    expect(seen).toContain('WINDOWS-1252');
    expect(seen).toContain('"one" is not a whole number');
    expect(seen).toContain('Zo\u00eb <b>Marrick</b>');
    expect(await lines(`I${width}-%`)).toEqual([]);
    // an item nobody knows either, then the right one
    const means = page.getByLabel(`Item that three-figs-${width} stands for`);
    await means.fill('SP-FUG-030');
    await page.getByRole('button', { name: 'Keep this and look again' }).click();
    expect(await means.inputValue()).toBe('SP-FUG-030');
    expect(await page.textContent('main')).toContain('There is no item SP-FUG-030');
    await means.fill('sp-fig-030');
    await page.getByLabel(`How many in one three-figs-${width}`).fill('3');
    await page.getByRole('button', { name: 'Keep this and look again' }).click();
    await page.waitForSelector('text=Nothing of it is written yet');
    expect(await page.getByText('Codes nobody knows here').count()).toBe(0);
    await page.getByRole('button', { name: 'Take the 2 good rows, leave 1' }).click();
    await page.waitForSelector('text=2 rows of 3 taken');
    expect(await page.textContent('main')).toContain('Rows left out');
    expect(await lines(`I${width}-%`)).toEqual([
      { number: `I${width}-1`, item: 'SP-FIG-030', quantity: 3 },
      { number: `I${width}-1`, item: 'SP-FIG-100', quantity: 2 },
    ]);
    // reloading takes nothing twice, and going back shows what became of it
    await page.reload();
    expect(await page.textContent('[role=status]')).toContain('2 rows of 3 taken');
    expect(await lines(`I${width}-%`)).toHaveLength(2);
  });

  it('whose columns are unclear is read as one says, pasted, and is sound on the way', async () => {
    const page = await app.open('/orders/import', { width: 390 });
    await page.getByLabel('Orders of').selectOption('market');
    await page.getByLabel('Or its rows').fill('ref\tthing\tn\twhen\nP-1\tSP-FIG-100\t4\t03/11/2026\n');
    await page.getByRole('button', { name: 'Look at it' }).click();
    await page.waitForSelector('text=The columns are not clear yet');
    await expectSound(page);
    await page.getByLabel('Order number').selectOption('ref');
    await page.getByLabel('Code of the item').selectOption('thing');
    await page.getByLabel('How many', { exact: true }).selectOption('n');
    await page.getByLabel('Placed on').selectOption('when');
    await page.getByRole('button', { name: 'Read it so' }).click();
    // a date that could be read in two ways is asked for
    await page.waitForSelector('text=Nothing of it is written yet');
    expect(await page.textContent('main')).toContain('No row can be taken yet');
    await page.getByText('Read it another way').click();
    await page.getByLabel('Dates are written').selectOption('dmy');
    await page.getByRole('button', { name: 'Read it so' }).click();
    await page.getByRole('button', { name: 'Take 1 row' }).waitFor();
    await expectSound(page);
    await page.getByRole('button', { name: 'Take 1 row' }).click();
    await page.waitForSelector('text=1 row of 1 taken');
    await expectSound(page);
    expect(await lines('P-1')).toEqual([{ number: 'P-1', item: 'SP-FIG-100', quantity: 4 }]);
    expect(faultsOf(page)).toEqual([]);
  });

  it('of five megabytes shows how far it is, and is taken whole', async () => {
    const customer = `Somebody ${'with a long name '.repeat(5)}`;
    const rows = Array.from(
      { length: 40_000 },
      (_, i) => `BULK-${i % 20_000},SP-FIG-100,2,2026-11-20,${customer}${i % 20_000}`,
    );
    const csv = ['order,sku,qty,date,customer', ...rows].join('\n');
    expect(csv.length).toBeGreaterThan(5_000_000);
    const page = await app.open('/orders/import');
    await page.getByLabel('Orders of').selectOption('webshop');
    await page.getByLabel('The file').setInputFiles(file('big.csv', csv));
    await page.getByRole('button', { name: 'Look at it' }).click();
    await page.waitForSelector('progress', { timeout: 60_000 });
    expect(await page.textContent('[role=status]')).toMatch(/of about 40,001 rows read/);
    // without a reload by hand
    await page.waitForSelector('text=Nothing of it is written yet', { timeout: 120_000 });
    await page.getByRole('button', { name: 'Take 40000 rows' }).click();
    await page.waitForSelector('text=40000 rows of 40,000 taken', { timeout: 120_000 });
    const [count] = await app.app.database.query<{ rows: number }>(
      `select count(*) as rows from order_line l join customer_order o on o.id = l.order_id where o.number like 'BULK-%'`,
    );
    expect(count!.rows).toBe(40_000);
    expect(faultsOf(page)).toEqual([]);
  });

  it.each([
    ['nothing', undefined, 'Choose a file, or paste its rows'],
    ['an empty file', '', 'The file is empty'],
  ])('that is %s is refused beside the form', async (_, content, sentence) => {
    const page = await app.open('/orders/import', { javaScript: false });
    if (content !== undefined) await page.getByLabel('The file').setInputFiles(file('none.csv', content));
    await page.getByRole('button', { name: 'Look at it' }).click();
    expect(await page.textContent('[role=alert]')).toContain(sentence);
  });

  it('that is no text says so, and another can be chosen', async () => {
    const page = await app.open('/orders/import', { javaScript: false });
    await page.getByLabel('The file').setInputFiles(file('photo.csv', Buffer.from([0x50, 0x4b, 3, 4, 0, 0, 0, 1])));
    await page.getByRole('button', { name: 'Look at it' }).click();
    expect(await page.textContent('[role=alert]')).toContain('this is not a text file');
    await page.getByRole('link', { name: 'Choose another file' }).click();
    expect(page.url()).toBe(`${app.base}/orders/import`);
  });
});
