import { describe, expect, it } from 'vitest';
import type { Page } from 'playwright-core';
import { expectSound, useBrowser } from '../support/browser.js';

const app = useBrowser();

/** Tabs on until the element in focus says so in its text, its label or its name. */
async function tabTo(page: Page, what: string): Promise<void> {
  for (let i = 0; i < 80; i++) {
    await page.keyboard.press('Tab');
    const focused = await page.evaluate<string>(
      `(({ activeElement: e }) => [e.textContent, e.getAttribute('aria-label'), e.labels?.[0]?.textContent, e.name].join('|'))(document)`,
    );
    if (focused.includes(what)) return;
  }
  throw new Error(`nothing in focus says ${what}`);
}

describe('the ways through the pages', () => {
  it('lead by keyboard alone from any page to an order that is written down', async () => {
    const page = await app.open('/shelf');
    await tabTo(page, 'Orders');
    await page.keyboard.press('Enter');
    await page.waitForURL('**/orders');
    await tabTo(page, 'New order');
    await page.keyboard.press('Enter');
    await page.waitForURL('**/orders/new');
    await tabTo(page, 'Order number');
    await page.keyboard.type('K-1');
    await tabTo(page, 'Code, line 1');
    await page.keyboard.type('SP-FIG-100');
    await tabTo(page, 'How many, line 1');
    await page.keyboard.type('2');
    await page.keyboard.press('Enter');
    await page.waitForURL('**/K-1?said=added');
    expect(await page.textContent('[role=status]')).toContain('The order is written down');
  });

  it('lead by keyboard alone to a lot and an act on it', async () => {
    const page = await app.open('/orders');
    await page.keyboard.press('/');
    await page.keyboard.type('FO-CEDAR');
    await page.keyboard.press('Enter');
    await page.waitForURL('**/shelf/items/FO-CEDAR');
    await page.locator('table a').first().focus();
    await page.keyboard.press('Enter');
    await page.waitForURL('**/shelf/lots/*');
    await tabTo(page, 'Count it');
    await page.keyboard.press('Enter');
    await tabTo(page, 'counted');
    await page.keyboard.type('333');
    await tabTo(page, 'reason');
    await page.keyboard.type('month');
    await page.keyboard.press('Enter');
    await page.waitForURL('**said=counted**');
    expect(await page.textContent('[role=status]')).toContain('Counted: 7 g less');
  });

  it('work without JavaScript: an order, a lot thrown away, a formula worked out and kept', async () => {
    const page = await app.open('/orders/new', { javaScript: false, width: 390 });
    await page.getByLabel('Order number').fill('J-1');
    await page.getByRole('button', { name: 'More lines' }).click();
    await page.getByLabel('Code, line 10').fill('SP-FIG-100');
    await page.getByLabel('How many, line 10').fill('1');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(await page.textContent('[role=status]')).toContain('The order is written down');

    await page.goto(`${app.base}/shelf/items/FO-FIG`);
    await page.locator('table a').first().click();
    await page.getByText('Take some out').click();
    const form = page.locator('form[action$="/take-out"]');
    await form.getByLabel('How much').fill('1 g');
    await form.locator('[name=reason]').fill('spilt');
    await form.getByRole('button').click();
    expect(await page.textContent('[role=status]')).toContain('It is written down');

    await page.goto(`${app.base}/formulas/BLK-SP-CEDAR/new`);
    await page.getByLabel('Amount of line 2').fill('6');
    await page.getByRole('button', { name: 'Work it out' }).click();
    expect(await page.textContent('main')).toContain('Adds up to 100 %');
    await page.getByRole('button', { name: /Keep it as version/ }).click();
    expect(await page.textContent('[role=status]')).toContain('is kept');
  });

  it('are in the address: what is shown can be sent on, and the way back leads back', async () => {
    const page = await app.open('/orders');
    await page.getByLabel('Number, customer or code').fill('SP-CEDAR');
    await page.getByRole('button', { name: 'Show' }).click();
    await page.waitForURL('**search=SP-CEDAR**');
    const shown = await page.locator('tbody th a').allTextContents();
    expect(shown.length).toBeGreaterThan(0);
    const other = await app.open(page.url().slice(app.base.length));
    expect(await other.locator('tbody th a').allTextContents()).toEqual(shown);
    await page.locator('tbody th a').first().click();
    await page.waitForURL('**/orders/*/*');
    await page.goBack();
    expect(page.url()).toContain('search=SP-CEDAR');
    expect(await page.locator('tbody th a').allTextContents()).toEqual(shown);
  });
});

describe('every number', () => {
  it('of the week leads to what it is made of, and on from there', async () => {
    const page = await app.open('/week/2026-11-30');
    await page.getByRole('button', { name: 'Plan this week' }).click();
    await page
      .getByRole('link', { name: /bench minutes/ })
      .first()
      .click();
    expect(await page.textContent('h1')).toMatch(/Why \d+ bench minutes on Mon 30 Nov 2026\?/);
    const [, used] = /Why (\d+) bench/.exec((await page.textContent('h1')) ?? '')!;
    const minutes = await page.locator('tbody td[data-label=Minutes]').allTextContents();
    expect(minutes.reduce((sum, text) => sum + Number(text), 0)).toBe(Number(used));
    await expectSound(page);
    await page.goBack();
    await page.getByText('What the week takes', { exact: true }).click();
    const takes = page.locator('details').filter({ hasText: 'What the week takes' });
    await takes.locator('td[data-label="This week"] a').first().click();
    await page.waitForURL('**/why/need/*/*');
    expect(await page.textContent('h1')).toMatch(/Why is .+ needed this week\?/);
    await expectSound(page);
    await page.getByRole('link', { name: 'How much to order' }).click();
    await page.waitForURL('**/why/reorder/*');
    await expectSound(page);
    await page.setViewportSize({ width: 390, height: 900 });
    await expectSound(page);
    expect((await app.app.request('GET', '/why/need/NOTHING')).status).toBe(302);
    expect((await app.app.request('GET', '/why/need/1/NOTHING')).status).toBe(404);
    expect((await app.app.request('GET', '/why/reorder/NOTHING')).status).toBe(404);
  });
});

describe('an order line that is late or not covered', () => {
  it('leads to what would have to give way, and what is told there holds when it is done', async () => {
    const page = await app.open('/week/2026-11-30', { width: 390 });
    await app.app.request('POST', '/api/runs', { weekStart: '2026-11-30' });
    await page.goto(`${app.base}/week/2026-11-30`);
    const row = page.locator('tr').filter({ hasText: 'wholesale/W-2302/' });
    const more = page.getByText(/^\d+ more late or not covered$/);
    if (!(await row.isVisible())) await more.click();
    await row.locator('td[data-label=Why] a').click();
    await page.waitForURL('**/why/late/*');
    expect(await page.textContent('h1')).toBe('Why is 40 × Moss Wall reed diffuser 100 ml not covered?');
    const told = /(\d+) g more of Moss Wall fragrance, here today: then it would be in time/;
    const [, grams] = told.exec((await page.textContent('main')) ?? '')!;
    await expectSound(page);
    await page.setViewportSize({ width: 1280, height: 900 });
    await expectSound(page);
    const lot = { item: 'FO-MOSS', code: 'MOSS-MORE', quantity: `${grams} g`, expiresOn: '2028-01-01' };
    expect((await app.app.request('POST', '/api/lots', lot)).status).toBe(201);
    await page.reload();
    expect(await page.textContent('h1')).toBe('40 × Moss Wall reed diffuser 100 ml: in time');
  });
});

describe('a workshop with more codes than a list holds', () => {
  it('reaches each of them by typing', async () => {
    await app.app.database.query(
      `insert into item (code, name, kind, measure)
       select 'ZZ-' || lpad(n::text, 4, '0'), 'Late ' || n, 'product', 'counted' from generate_series(1, 1100) n`,
    );
    const page = await app.open('/orders/new');
    expect(await page.locator('#sold option[value="ZZ-1099"]').count()).toBe(0);
    await page.getByLabel('Code, line 1').pressSequentially('late 1099');
    await page.locator('#sold option[value="ZZ-1099"]').waitFor({ state: 'attached' });
    expect(await page.locator('#sold option').count()).toBe(1);
  });
});
