import type { Page } from 'playwright-core';
import { afterAll, describe, expect, it } from 'vitest';
import type { PurchaseOrderView } from '../../src/purchasing/purchase-orders.schema.js';
import { expectSound, expectSoundEverywhere, useBrowser } from '../support/browser.js';
import type { OpenOptions } from '../support/browser.js';
import { startMailSink } from '../support/receivers.js';
import { until } from '../support/until.js';

const mail = await startMailSink();
afterAll(() => mail.stop());
const app = useBrowser({
  config: { worker: 'here', smtp: { url: mail.url, from: 'Quarry Lane Workshop <orders@example.org>' } },
});

/** Drafts an order of what is to be ordered first from a supplier, and answers its code. */
async function drafted(supplier: RegExp, how: OpenOptions): Promise<{ page: Page; code: string }> {
  const page = await app.open('/reorder', how);
  await page
    .getByRole('row', { name: supplier })
    .getByRole('button', { name: /^(Make a purchase order|Add to PO)/ })
    .first()
    .click();
  await page.waitForURL('**/purchase-orders/*?said=drafted');
  return { page, code: new URL(page.url()).pathname.split('/').at(-1)! };
}

const order = async (code: string): Promise<PurchaseOrderView> =>
  (await app.app.request<PurchaseOrderView>('GET', `/api/purchase-orders/${code}`)).body;

async function press(page: Page, button: string, said: string): Promise<void> {
  await page.getByRole('button', { name: button, exact: true }).first().click();
  await page.waitForURL(`**?said=${said}*`);
}

/** What a link downloads. */
async function fileOf(page: Page, link: string): Promise<Buffer> {
  const path = await page.getByRole('link', { name: link }).getAttribute('href');
  const answer = await page.request.get(app.base + path!);
  expect(answer.status(), link).toBe(200);
  return answer.body();
}

type Line = PurchaseOrderView['lines'][number];
const cameText = ({ size, measure }: Line, packs: number): string =>
  measure === 'counted' ? String(packs * size) : `${(packs * size) / 1000} g`;

/** What is wrong is said beside its field. */
async function changeWrongly(page: Page, { pack }: Line): Promise<void> {
  await page.getByLabel(`Packs of ${pack}`, { exact: true }).fill('many');
  await page.getByRole('button', { name: 'Keep the changes' }).click();
  const told = await page.locator('[aria-invalid=true]').getAttribute('aria-describedby');
  expect(await page.locator(`[id="${told}"]`).textContent()).toContain('whole number of packs');
  expect(await page.getByLabel(`Packs of ${pack}`, { exact: true }).inputValue()).toBe('many');
}

/** Changes a draft, looks at its files and sends it. */
async function changeAndSend(page: Page, code: string, { pack, name }: Line): Promise<void> {
  await page.getByLabel(`Packs of ${pack}`, { exact: true }).fill('4');
  await page.getByLabel('Freight').fill('9.50');
  await page.getByLabel('Note to the supplier').fill('Leave it at the back door');
  await press(page, 'Keep the changes', 'changed');
  expect((await fileOf(page, 'As a PDF')).subarray(0, 5).toString()).toBe('%PDF-');
  // a name with a comma in it stands in quotes
  const cell = name.includes(',') ? `"${name}"` : name;
  expect((await fileOf(page, 'As a table (CSV)')).toString()).toContain(`${code},1,${pack},${cell},`);
  await page.getByLabel('How').selectOption('download');
  await press(page, 'It is sent', 'sent');
}

/** Confirms three packs of the first for one day and the rest for another, and another price of the second. */
async function confirmInParts(page: Page, first: Line, second: Line): Promise<void> {
  await page.getByLabel('It comes on', { exact: true }).fill('2026-12-03');
  await page.getByLabel('Their number').fill('BR-771');
  await page.getByLabel(`Packs of ${first.pack} that come`).fill('3');
  await page.getByLabel(`The rest of ${first.pack} comes on`).fill('2026-12-10');
  await page.getByLabel(`Price of ${second.pack}`).fill('99.90');
  await press(page, 'It is confirmed', 'confirmed');
  expect(await page.locator('.note.care').textContent()).toMatch(
    new RegExp(`${second.pack}: confirmed at €99.90, asked for at €[0-9.]+; kept for the next orders`),
  );
}

/** One pack of the first comes, one of the second more than asked for, and nothing of the others. */
async function takeIn(page: Page, first: Line, second: Line): Promise<void> {
  const form = page.locator('form[action$="/receive"]').first();
  const amounts = form.getByLabel(/^Came of /);
  for (let row = 2; row < (await amounts.count()); row++) await amounts.nth(row).fill('');
  await amounts.nth(0).fill(cameText(first, 1));
  await amounts.nth(1).fill(cameText(second, second.packs + 1));
  await form
    .getByLabel(/^The supplier's lot of /)
    .first()
    .fill('B-4471');
  await form.getByRole('button', { name: 'Take it in' }).click();
  await page.waitForURL('**?said=received*');
}

describe('a purchase order', () => {
  it.each([
    [390, /Brindlemoor/],
    [1280, /Pennyquick/],
  ] as const)('leads from the reorder list to the shelf at %i', async (width, supplier) => {
    const { page, code } = await drafted(supplier, { width });
    await expectSound(page);
    const list = await app.open('/reorder', { width });
    expect(await list.getByRole('link', { name: `In draft ${code}, not sent` }).count()).toBe(1);
    const [first, second] = (await order(code)).lines as [Line, Line];
    await changeWrongly(await app.open(`/purchase-orders/${code}`, { width }), first);
    await changeAndSend(page, code, first);
    await expectSound(page);
    await confirmInParts(page, first, second);
    await expectSound(page);
    await takeIn(page, first, second);
    await expectSound(page);
    const partly = await order(code);
    expect(partly.status).toBe('partly-received');
    // two of three still come with this delivery, the fourth with the next
    expect(partly.lines[0]).toMatchObject({ confirmedPacks: 4, received: first.size, toCome: 3 * first.size });
    expect(partly.lines[1]).toMatchObject({ received: (second.packs + 1) * second.size, toCome: 0 });
    const waits = page.getByRole('heading', { name: `${code}.2: expected Thu 10 Dec 2026` });
    expect(await waits.count()).toBe(1);
    const orders = await app.open('/purchase-orders', { width });
    const row = await orders.getByRole('row').filter({ hasText: code }).textContent();
    expect(row).toMatch(/partly here.*comes Thu 3 Dec/s);
    await page.getByText('Give up what has not come').click();
    await page.locator('#cancel-why').fill('enough of it');
    await press(page, 'Give it up', 'cancelled');
    const over = await order(code);
    expect([over.status, ...over.lines.map(({ toCome }) => toCome)]).toEqual(['received', ...over.lines.map(() => 0)]);
  });

  it('is made, sent, taken back and given up without JavaScript', async () => {
    const { page, code } = await drafted(/Kettlehill/, { width: 390, javaScript: false });
    await page.getByLabel('How').selectOption('telephone');
    await page.locator('#send-sentOn').fill('2026-12-24');
    await page.getByRole('button', { name: 'It is sent' }).click();
    expect(await page.textContent('#send-sentOn-fault')).toContain('still to come');
    expect(await page.getByLabel('How').inputValue()).toBe('telephone');
    await page.locator('#send-sentOn').fill('2026-11-24');
    await press(page, 'It is sent', 'sent');
    await press(page, 'It was not sent after all', 'taken-back');
    await page.getByText('Throw the draft away').click();
    await page.locator('#cancel-why').fill('ordered twice');
    await press(page, 'Give it up', 'cancelled');
    expect((await order(code)).status).toBe('cancelled');
    expect(await page.getByRole('button', { name: /sent|Give/ }).count()).toBe(0);
  });

  it('goes out by email, to the address that is known or another', async () => {
    const { page, code } = await drafted(/Marl Pit/, { width: 390 });
    const wrong = await app.open(`/purchase-orders/${code}`, { width: 390 });
    await wrong.getByLabel('By email to').fill('orders at marlpit');
    await wrong.getByRole('button', { name: 'Send it by email' }).click();
    expect(await wrong.textContent('#email-to-fault')).toContain('Write an email address, like');
    expect(await wrong.getByLabel('By email to').inputValue()).toBe('orders at marlpit');
    expect(await page.getByLabel('By email to').inputValue()).toBe('orders@marlpit.example');
    await page.getByLabel('By email to').fill('desk@marlpit.example');
    await press(page, 'Send it by email', 'emailed');
    await expectSound(page);
    await until(
      () => order(code),
      ({ letter }) => letter?.status === 'sent',
    );
    await page.reload();
    expect(await page.textContent('main')).toContain('emailed from here Wed 25 Nov to desk@marlpit.example');
    expect(await page.textContent('main')).toContain('Its email has left and is not called back');
    const [letter, ...more] = mail.mails.filter(({ subject }) => subject === `Order ${code} of Quarry Lane Workshop`);
    expect(more).toEqual([]);
    expect(letter!.attachments.map(({ filename }) => filename)).toEqual([`${code}.pdf`, `${code}.csv`]);
  });

  it('is sound at both widths, by day and by night, whatever became of it', async () => {
    const { orders } = (await app.app.request<{ orders: PurchaseOrderView[] }>('GET', '/api/purchase-orders')).body;
    expect(orders.length).toBeGreaterThan(2);
    for (const { code } of orders) await expectSoundEverywhere(app, `/purchase-orders/${code}`);
    const { code } = await drafted(/Brindlemoor/, { width: 1280 });
    await expectSoundEverywhere(app, `/purchase-orders/${code}`);
    await app.app.request('POST', `/api/purchase-orders/${code}/send`, { sentBy: 'web' });
    await expectSoundEverywhere(app, `/purchase-orders/${code}`);
    await app.app.request('POST', `/api/purchase-orders/${code}/confirm`, { expectedOn: '2026-12-03' });
    await expectSoundEverywhere(app, `/purchase-orders/${code}`);
    await expectSoundEverywhere(app, '/purchase-orders');
  });
});
