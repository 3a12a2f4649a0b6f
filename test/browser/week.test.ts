import { describe, expect, it } from 'vitest';
import { expectSound, expectSoundEverywhere, useBrowser } from '../support/browser.js';

const WEEK = '/week/2026-11-30';
const app = useBrowser();

describe('the week', () => {
  it('teaches before it is planned, and is sound', async () => {
    const page = await app.open(WEEK);
    expect(await page.textContent('main')).toContain('This week is not planned yet');
    await expectSound(page);
  });

  it('is planned, set aside, changed and taken back, with JavaScript off as well', async () => {
    const page = await app.open(WEEK, { javaScript: false, width: 390 });
    await page.getByRole('button', { name: 'Plan this week' }).click();
    expect(await page.textContent('[role=status]')).toContain('Nothing is set aside yet');
    expect(await page.getByRole('link', { name: 'Lamp Amber spray, bulk' }).count()).toBe(1);
    expect(await page.getByText('order by Tue 8 Dec').count()).toBe(1);
    await page.getByRole('button', { name: 'Set the lots aside' }).click();
    expect(await page.textContent('[role=status]')).toContain('The lots are set aside');
    const row = page.getByRole('row').filter({ hasText: 'Hedge Rose mist, bulk' });
    await row.getByRole('link', { name: /^Move B/ }).click();
    expect(await page.textContent('h1')).toMatch(/^Move B\d+-\d+$/);
    await page.getByLabel('Move to').selectOption('2026-12-03');
    await page.getByRole('button', { name: 'See what that does' }).click();
    expect(await page.textContent('h1')).toContain('to Thu 3 Dec 2026?');
    await page.getByRole('button', { name: 'Move it' }).click();
    expect(await page.textContent('[role=status]')).toContain('The batch is moved');
    await page.getByRole('button', { name: /Take plan \d+ back/ }).click();
    expect(await page.textContent('[role=status]')).toContain('taken back');
  });

  it('says that it is at work where planning takes long', async () => {
    const page = await app.open('/week/2027-01-04');
    // the driver looks at no page that is being left, so the page itself notes what it showed
    await page.evaluate(`
      const note = () => sessionStorage.setItem('shown', document.querySelector('.busy')?.textContent ?? '');
      new MutationObserver(note).observe(document.getElementById('content'), { childList: true });`);
    await page.route('**/plan', async (route) => {
      await new Promise((resolve) => setTimeout(resolve, 2000));
      await route.continue();
    });
    await page.getByRole('button', { name: 'Plan this week' }).click();
    await page.getByRole('status').filter({ hasText: 'Nothing is set aside yet' }).waitFor();
    expect(await page.evaluate(`sessionStorage.getItem('shown')`)).toContain('Planning from every open order');
    expect(await page.locator('.busy').count()).toBe(0);
  });

  it('says what changed since the plan before, and why', async () => {
    await app.app.request('POST', '/api/runs', { weekStart: '2026-12-14' });
    const order = {
      channel: 'webshop',
      number: '#7001',
      lines: [{ code: 'SP-CEDAR-100', quantity: 60, shipBy: '2026-12-30' }],
    };
    expect((await app.app.request('POST', '/api/orders', order)).status).toBe(201);
    const page = await app.open('/week/2026-12-14');
    await page.getByRole('button', { name: 'Plan again' }).click();
    await page.getByRole('link', { name: 'What changed' }).click();
    expect(await page.textContent('main')).toContain('Order line webshop/#7001/SP-CEDAR-100#1: added');
    await expectSound(page);
  });

  it('moves a pour by dragging it to another day, after saying what that does', async () => {
    const page = await app.open('/week/2026-12-14');
    // both days in sight: the page must not scroll under the pointer
    await page.setViewportSize({ width: 1280, height: 6000 });
    await page.getByRole('button', { name: 'Set the lots aside' }).click();
    const row = page.locator('tr[data-movable]').last();
    await expectSoundEverywhere(app, (await row.getByRole('link', { name: /^Move B/ }).getAttribute('href'))!);
    const from = await row.evaluate((element) => element.closest('[data-day]')!.getAttribute('data-day'));
    const to = from === '2026-12-18' ? '2026-12-17' : '2026-12-18';
    await row.locator('th').dragTo(page.locator(`[data-day="${to}"] h2`));
    await page.waitForURL('**/move-preview');
    expect(await page.textContent('main')).toMatch(/Move B\d+-\d+ to|There is|needs|is made from/);
  });

  it('is sound at both widths, by day and by night', async () => {
    await (await app.open(WEEK)).getByRole('button', { name: 'Plan this week' }).click();
    await expectSoundEverywhere(app, WEEK);
  });

  it('goes to the search with the slash, and by keyboard alone to a plan', async () => {
    const page = await app.open('/week/2026-12-07');
    await page.keyboard.press('/');
    expect(await page.evaluate('document.activeElement.getAttribute("type")')).toBe('search');
    await page.keyboard.press('Tab');
    for (let i = 0; i < 10; i++) {
      if ((await page.evaluate('document.activeElement.textContent')) === 'Plan this week') break;
      await page.keyboard.press('Tab');
    }
    await page.keyboard.press('Enter');
    await page.waitForURL('**/week/2026-12-07?said=planned');
    expect(await page.textContent('[role=status]')).toContain('The week is planned');
  });
});
