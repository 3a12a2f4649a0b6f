import { describe, expect, it } from 'vitest';
import { expectSound, expectSoundEverywhere, useBrowser, WIDTHS } from '../support/browser.js';

const app = useBrowser();
const main = (page: { textContent(selector: string): Promise<string | null> }) => page.textContent('main');

describe('orders', () => {
  it('say how far each line is covered, before and after the week is planned', async () => {
    const before = await app.open('/orders');
    expect(await before.locator('td').getByText('not planned yet').count()).toBeGreaterThan(20);
    await app.app.request('POST', '/api/runs', {});
    for (const width of WIDTHS) {
      const page = await app.open('/orders', { width });
      expect(await page.locator('td').getByText('not planned yet').count()).toBe(0);
      await page.goto(`${app.base}/orders?search=W-2318`);
      const row = page.getByRole('row').filter({ hasText: 'W-2318' });
      expect(await row.textContent()).toContain('18 from lot 26307-001');
      expect(await row.getByRole('link', { name: 'lot 26307-001' }).getAttribute('href')).toBe('/shelf/lots/26307-001');
    }
  });

  it('are found by filters that stand in the address, and paged', async () => {
    const page = await app.open('/orders', { javaScript: false, width: 390 });
    await page.getByLabel('Only late, short or not planned').check();
    await page.getByRole('button', { name: 'Show' }).click();
    expect(new URL(page.url()).searchParams.get('only')).toBe('late');
    expect(await page.locator('tbody tr').count()).toBe(2);
    expect(await main(page)).toContain('10 days late, ready Mon 14 Dec (cannot rest long enough)');
    expect(await main(page)).toContain('not covered (something is short)');
    await page.goto(`${app.base}/orders?channel=webshop&status=confirmed`);
    expect(await page.getByLabel('State').inputValue()).toBe('confirmed');
    await page.getByRole('link', { name: 'More orders' }).click();
    expect(new URL(page.url()).searchParams.get('channel')).toBe('webshop');
    await page.goBack();
    expect(page.url()).not.toContain('after');
    await page.goto(`${app.base}/orders?search=nobody+at+all`);
    expect(await main(page)).toContain('No order fits');
    await page.getByRole('link', { name: 'Show all orders' }).click();
    expect(page.url()).toBe(`${app.base}/orders`);
  });

  it.each(WIDTHS)('are written down line by line without JavaScript, at %i px', async (width) => {
    const number = `H-${width}`;
    const page = await app.open('/orders/new', { javaScript: false, width });
    await page.getByLabel('From').selectOption('webshop');
    await page.getByLabel('Order number').fill(number);
    await page.getByLabel('Customer').fill('<img src=x onerror=alert(1)>');
    await page.getByLabel('Code, line 1', { exact: true }).fill('SP-FIG-100');
    await page.getByLabel('How many, line 1', { exact: true }).fill('2');
    await page.getByLabel('Code, line 4').fill('NOTHING-100');
    await page.getByLabel('How many, line 4').fill('3');
    await page.getByRole('button', { name: 'More lines' }).click();
    expect(await page.getByLabel('Code, line 10').count()).toBe(1);
    await page.getByRole('button', { name: 'Write it down' }).click();
    const wrong = page.getByLabel('Code, line 4');
    expect(await wrong.inputValue()).toBe('NOTHING-100');
    const described = await wrong.getAttribute('aria-describedby');
    expect(await page.locator(`[id="${described}"]`).textContent()).toContain('no item and no shop code');
    await wrong.fill('SP-FIG-030');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(page.url()).toBe(`${app.base}/orders/webshop/${number}?said=added`);
    expect(await page.locator('main img').count()).toBe(0);
    expect(await main(page)).toContain('<img src=x onerror=alert(1)>');
    expect(await page.locator('tbody tr').count()).toBe(2);
    // the same number again
    await page.goto(`${app.base}/orders/new`);
    await page.getByLabel('From').selectOption('webshop');
    await page.getByLabel('Order number').fill(number);
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(await page.textContent('[role=alert]')).toContain('needs at least one line');
    await page.getByLabel('Code, line 1', { exact: true }).fill('SP-FIG-100');
    await page.getByLabel('How many, line 1', { exact: true }).fill('2');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(await page.textContent('[role=alert]')).toContain('is there already');
  });

  it.each(WIDTHS)('are made urgent and weighed without JavaScript, at %i px', async (width) => {
    const number = `U-${width}`;
    const page = await app.open('/orders/new', { javaScript: false, width });
    await page.getByLabel('From').selectOption('wholesale');
    await page.getByLabel('Order number').fill(number);
    await page.getByLabel('Urgent: goes before all others').check();
    await page.getByLabel('Counts as').fill('a lot');
    await page.getByLabel('Code, line 1', { exact: true }).fill('SP-FIG-100');
    await page.getByLabel('How many, line 1', { exact: true }).fill('2');
    await page.getByRole('button', { name: 'Write it down' }).click();
    const refused = page.getByLabel('Counts as');
    expect(await refused.inputValue()).toBe('a lot');
    const described = (await refused.getAttribute('aria-describedby'))!.split(' ').at(-1);
    expect(await page.locator(`[id="${described}"]`).textContent()).toBe(
      'This has to be a whole number from 1 to 100.',
    );
    expect(await page.getByLabel('Urgent: goes before all others').isChecked()).toBe(true);
    await refused.fill('4');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(page.url()).toBe(`${app.base}/orders/wholesale/${number}?said=added`);
    const facts = page.locator('dl.facts');
    expect(await facts.textContent()).toMatch(/to send\s*urgent\s*Counts as\s*4\s*How it is sent/);
    await page.goto(`${app.base}/orders`);
    const row = page.getByRole('row').filter({ hasText: number });
    expect(await row.getByText('urgent', { exact: true }).count()).toBe(1);
    const open = await app.open(`/orders/wholesale/${number}`, { width });
    await open.getByText('Urgent, and what it counts as').click();
    await expectSound(open);
    // taken back, and left to its channel
    await page.goto(`${app.base}/orders/wholesale/${number}`);
    await page.getByText('Urgent, and what it counts as').click();
    await page.getByLabel('Counts as').fill('1000');
    await page.getByRole('button', { name: 'Keep this' }).click();
    expect(await page.textContent('main')).toContain('This has to be a whole number from 1 to 100.');
    await page.getByLabel('Counts as').fill('');
    await page.getByLabel('Urgent: goes before all others').uncheck();
    await page.getByRole('button', { name: 'Keep this' }).click();
    expect(page.url()).toBe(`${app.base}/orders/wholesale/${number}?said=precedence`);
    expect(await page.textContent('[role=status]')).toContain('The next plan goes by it');
    expect(await facts.textContent()).toMatch(/to send\s*Counts as\s*1, as its channel\s*How/);
    expect(await page.getByText('Make it urgent, or count for more').count()).toBe(1);
  });

  it.each(WIDTHS)('are sent all at once or in parts, and otherwise as their channel says, at %i px', async (width) => {
    const number = `S-${width}`;
    const page = await app.open('/orders/new', { javaScript: false, width });
    await page.getByLabel('From').selectOption('wholesale');
    await page.getByLabel('Order number').fill(number);
    const how = page.getByLabel('How it is sent');
    expect(await how.inputValue()).toBe('');
    await how.selectOption('All at once, when the last of it is ready');
    await page.getByLabel('Code, line 1', { exact: true }).fill('SP-FIG-100');
    await page.getByRole('button', { name: 'Write it down' }).click();
    // what is refused for something else says the same of it
    expect(await how.inputValue()).toBe('complete');
    await page.getByLabel('How many, line 1', { exact: true }).fill('2');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(page.url()).toBe(`${app.base}/orders/wholesale/${number}?said=added`);
    const facts = page.locator('dl.facts');
    expect(await facts.textContent()).toMatch(/How it is sent\s*all at once, when the last of it is ready$/);
    const open = await app.open(`/orders/wholesale/${number}`, { width });
    await open.getByText('Send it all at once, or in parts').click();
    await expectSound(open);
    await page.getByText('Send it all at once, or in parts').click();
    await how.selectOption('As its channel: each line when all of it is ready');
    await page.getByRole('button', { name: 'Keep this' }).click();
    expect(page.url()).toBe(`${app.base}/orders/wholesale/${number}?said=sends`);
    expect(await page.textContent('[role=status]')).toContain('The next plan goes by it');
    expect(await facts.textContent()).toMatch(/sent\s*each line when all of it is ready, as its channel$/);
    await page.goto(`${app.base}/orders/channels`);
    const wholesale = page.locator('section').filter({ has: page.locator('form[action$="/wholesale"]') });
    await wholesale.getByLabel('How its orders are sent').selectOption('In parts, what is there first');
    await wholesale.getByRole('button', { name: 'Keep this' }).click();
    expect(await wholesale.getByLabel('How its orders are sent').inputValue()).toBe('parts');
    await page.goto(`${app.base}/orders/wholesale/${number}`);
    expect(await facts.textContent()).toMatch(/sent\s*in parts, what is there first, as its channel$/);
    await app.app.request('PATCH', '/api/channels/wholesale', { sends: 'lines' });
  });

  it.each(WIDTHS)('go all at once from a channel that says so, and say what they wait for, at %i px', async (width) => {
    const channel = `table-${width}`;
    const page = await app.open('/orders/channels', { width });
    const form = page.locator('form').filter({ has: page.getByRole('button', { name: 'Add this channel' }) });
    await form.getByLabel('What it is called').fill(`Table ${width}`);
    await form.getByLabel('Short name').fill(channel);
    await form.getByLabel('How its orders are sent').selectOption('All at once, when the last of it is ready');
    await form.getByRole('button', { name: 'Add this channel' }).click();
    await page.waitForURL(`${app.base}/orders/channels`);
    const lines = [
      { code: 'SO-OAT-110', quantity: 1 },
      { code: 'DI-MOSS-100', quantity: 900 },
      { code: 'CA-FIG-220', quantity: 900 },
    ];
    const made = await app.app.request('POST', '/api/orders', { channel, number: 'ALL', urgent: true, lines });
    expect(made.body).toMatchObject({ sends: null, sentAs: 'complete' });
    await page.goto(`${app.base}/pick`);
    const card = page.locator('.card').filter({ hasText: 'goes all at once' });
    expect(await card.textContent()).toContain('900 Moss Wall reed diffuser 100 ml (not covered yet), ');
    await expectSound(page);
    await app.app.request('POST', `/api/orders/${channel}/ALL/cancel`);
  });

  it.each(WIDTHS)('count as those of their channel do, at %i px', async (width) => {
    const page = await app.open('/orders', { width });
    await page.getByRole('link', { name: 'Where they come from' }).click();
    await page.waitForURL(`${app.base}/orders/channels`);
    const market = page.locator('section').filter({ has: page.getByRole('heading', { name: 'Market stall' }) });
    await market.getByLabel('Its orders count as').fill('none');
    await market.getByRole('button', { name: 'Keep this' }).click();
    await page.waitForSelector('[role=alert]');
    expect(await market.textContent()).toContain('This has to be a whole number from 1 to 100.');
    // above its form and at its field, and at no other channel's
    const said = { hasText: 'This has to be a whole number from 1 to 100.' };
    expect(await page.locator('.fault, [role=alert]').filter(said).count()).toBe(2);
    expect(await market.locator('.fault, [role=alert]').filter(said).count()).toBe(2);
    await market.getByLabel('Its orders count as').fill('3');
    await market.getByRole('button', { name: 'Keep this' }).click();
    await page.waitForURL(`${app.base}/orders/channels?said=kept`);
    expect(await market.getByLabel('Its orders count as').inputValue()).toBe('3');
    const { body } = await app.app.request<{ orders: { number: string }[] }>('GET', '/api/orders?channel=market');
    const one = await app.open(`/orders/market/${encodeURIComponent(body.orders[0]!.number)}`, { width });
    expect(await one.locator('dl.facts').textContent()).toMatch(/Counts as\s*3, as its channel\s*How/);
  });

  it('are confirmed when paid, and cancelled', async () => {
    const { body } = await app.app.request<{ orders: { channel: string; number: string }[] }>(
      'GET',
      '/api/orders?status=waiting',
    );
    const { channel, number } = body.orders[0]!;
    const page = await app.open(`/orders/${channel}/${encodeURIComponent(number)}`, { width: 390 });
    expect(await main(page)).toContain('not planned before it is paid');
    await page.getByRole('button', { name: 'It is paid: plan it' }).click();
    expect(await page.textContent('[role=status]')).toContain('The order is confirmed');
    await page.getByText('Cancel the order').click();
    await expectSound(page);
    await page.getByRole('button', { name: 'Cancel what is open' }).click();
    expect(await page.textContent('[role=status]')).toContain('is cancelled');
    expect(await page.getByRole('button', { name: 'Cancel what is open' }).count()).toBe(0);
  });

  it('are sound at both widths, by day and by night', async () => {
    for (const path of ['/orders', '/orders/wholesale/W-2303', '/orders/new', '/orders/channels', '/orders/import'])
      await expectSoundEverywhere(app, path);
  });
});

describe('a code', () => {
  it.each([
    ['w-2303', '/orders/wholesale/W-2303'],
    ['wholesale/W-2303', '/orders/wholesale/W-2303'],
    ['26307-001', '/shelf/lots/26307-001'],
    ['sp-fig-100', '/shelf/items/SP-FIG-100'],
  ])('leads from the search box to its page: %s', async (code, path) => {
    const page = await app.open('/orders');
    await page.keyboard.press('/');
    await page.keyboard.type(code);
    await page.keyboard.press('Enter');
    await page.waitForURL(`${app.base}${path}`);
    expect(await page.locator('h1').count()).toBe(1);
  });

  it('of a batch leads to why it is made', async () => {
    const run = await app.app.request<{ id: number }>('POST', '/api/runs', {});
    const { body } = await app.app.request<{ batches: { code: string }[] }>('POST', `/api/runs/${run.body.id}/commit`);
    const page = await app.open(`/find?q=${body.batches[0]!.code.toLowerCase()}`);
    expect(new URL(page.url()).pathname).toBe(`/why/batch/${run.body.id}/${body.batches[0]!.code}`);
  });

  it('in part, or of nothing, shows what fits', async () => {
    const page = await app.open('/find?q=fig');
    expect(await page.locator('tbody tr').count()).toBeGreaterThan(4);
    await page.getByRole('link', { name: 'SP-FIG-030' }).click();
    expect(page.url()).toBe(`${app.base}/shelf/items/SP-FIG-030`);
    const none = await app.open('/find?q=%25_%25');
    expect(await main(none)).toContain('Nothing is called so');
    await expectSoundEverywhere(app, '/find?q=fig');
    await expectSound(none);
  });
});
