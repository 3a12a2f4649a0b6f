import { describe, expect, it } from 'vitest';
import { expectSound, expectSoundEverywhere, useBrowser } from '../support/browser.js';

describe('an empty workshop', () => {
  const app = useBrowser({ demo: false });

  it('is sound at both widths, by day and by night', async () => {
    await expectSoundEverywhere(app, '/start');
    await expectSoundEverywhere(app, '/orders');
    await expectSoundEverywhere(app, '/orders/new');
  });

  it('is set up step by step without JavaScript, from its hours to its first week', async () => {
    const page = await app.open('/start', { javaScript: false, width: 390 });
    const next = () => page.locator('details[open] summary').first().textContent();
    const at = (step: string, label: string) => page.locator(`#${step}`).getByLabel(label, { exact: true });
    expect(await next()).toContain('How you work');
    await at('settings', 'Name').fill('Gate House Soap');
    await at('settings', 'Money').fill('gbp');
    await at('settings', 'Time zone').fill('Mars/Olympus');
    await at('settings', 'Weights are read in').selectOption('us');
    await at('settings', 'Monday').fill('240');
    await at('settings', 'An hour of work costs').fill('18.50');
    await at('settings', 'A weight is right within, %').fill('2.5');
    await at('settings', 'What counts most').selectOption('little is thrown away');
    await page.getByRole('button', { name: 'Keep this' }).click();
    expect(await at('settings', 'Monday').inputValue()).toBe('240');
    const zone = at('settings', 'Time zone');
    expect(
      await page.locator(`[id="${(await zone.getAttribute('aria-describedby'))!.split(' ')[1]}"]`).textContent(),
    ).toContain('time zone database');
    await zone.fill('Europe/London');
    await page.getByRole('button', { name: 'Keep this' }).click();
    expect(await page.textContent('[role=status]')).toContain('Your workshop is set');
    expect(await page.textContent('.masthead .name')).toBe('Gate House Soap');
    const { body } = await app.app.request('GET', '/api/workshop');
    expect(body).toMatchObject({ labourRateE4: 185_000, weighTolerancePpb: 25_000_000, bestBeforeOfMaterials: false });
    expect(body).toMatchObject({ planTerms: ['expires'] });

    expect(await next()).toContain('What you pour in');
    await at('vessels', 'Short name').fill('jug-1');
    await at('vessels', 'Kind').fill('jug');
    await at('vessels', 'Holds by weight').fill('11 lb');
    await page.getByRole('button', { name: 'Add this vessel' }).click();

    expect(await next()).toContain('What you use and make');
    await page
      .getByLabel('Copy the rows')
      .fill('Code\tName\tUnit\tDensity\tKind\nalcohol\tAlcohol base\tg\t0,81\t\nCEDAR\tCedar oil\tg\tthick\t\n');
    await page.getByRole('button', { name: 'Add these' }).click();
    expect(await page.textContent('#items-text-fault')).toContain('Line 3, density');
    await page
      .getByLabel('Copy the rows')
      .fill(
        'Code\tName\tUnit\tDensity\tKind\nalcohol\tAlcohol base\tg\t0,81\t\nCEDAR\tCedar oil\tg\t0.95\t\n' +
          'BOTTLE\t"Bottle, 100 ml"\teach\t\t\nBLK-CEDAR\tCedar spray\tg\t0.82\tbulk\nSP-CEDAR\tCedar spray 100 ml\t\t\tproduct\n',
      );
    await page.getByRole('button', { name: 'Add these' }).click();
    expect(await page.textContent('[role=status]')).toContain('The items are added');
    const items = await app.app.database.query(
      `select code, kind, measure, density_ug_per_ml as density from item order by code`,
    );
    expect(items).toEqual([
      { code: 'ALCOHOL', kind: 'material', measure: 'weighed', density: 810_000 },
      { code: 'BLK-CEDAR', kind: 'bulk', measure: 'weighed', density: 820_000 },
      { code: 'BOTTLE', kind: 'material', measure: 'counted', density: null },
      { code: 'CEDAR', kind: 'material', measure: 'weighed', density: 950_000 },
      { code: 'SP-CEDAR', kind: 'product', measure: 'counted', density: null },
    ]);

    expect(await next()).toContain('Your first formula');
    await page.getByRole('link', { name: 'A formula for Cedar spray', exact: true }).click();
    expect(new URL(page.url()).pathname).toBe('/formulas/BLK-CEDAR/new');
    await app.app.request('POST', '/api/items/BLK-CEDAR/formulas', {
      batchMin: '500 g',
      vesselKind: 'jug',
      lines: [
        { item: 'ALCOHOL', basis: 'qs', isBase: true },
        { item: 'CEDAR', basis: 'load', amount: '5 %' },
      ],
    });

    await page.goto(`${app.base}/start`);
    expect(await next()).toContain('What lies on the shelf');
    await at('lots', 'Of what').fill('alcohol');
    await at('lots', 'How much').fill('1');
    await page.getByRole('button', { name: 'Put it on the shelf' }).click();
    expect(await at('lots', 'How much').getAttribute('aria-invalid')).toBe('true');
    expect(await page.textContent('#lot-quantity-fault')).toContain('Say in which unit');
    await at('lots', 'How much').fill('64 fl oz');
    await page.getByRole('button', { name: 'Put it on the shelf' }).click();
    expect(await page.textContent('[role=status]')).toContain('on the shelf');
    // 64 US fluid ounces of 0.81 g/ml, shown in the units that were chosen
    await page.goto(`${app.base}/shelf/items/ALCOHOL`);
    expect(await page.textContent('main')).toContain('1533.1 g (3.38 lb)');

    await page.goto(`${app.base}/start`);
    expect(await next()).toContain('Where orders come from');
    await at('channels', 'What it is called').fill('Own shop');
    await at('channels', 'Short name').fill('Own Shop');
    await page.getByRole('button', { name: 'Add this channel' }).click();
    expect(await page.textContent('.fault')).toContain('small letters (a to z), digits or dashes');
    await page.getByLabel('Short name').fill('own-shop');
    await page.getByRole('button', { name: 'Add this channel' }).click();
    expect(page.url()).toBe(`${app.base}/start`);
    expect(await next()).toContain('Your first order');
    await page.getByRole('link', { name: 'Write one down' }).click();
    await page.getByLabel('Order number').fill('1');
    await page.getByLabel('Code, line 1').fill('SP-CEDAR');
    await page.getByLabel('How many, line 1').fill('2 dozen');
    await page.getByRole('button', { name: 'Write it down' }).click();
    expect(await page.locator('tbody td.num').first().textContent()).toBe('24');
    await page.goto(`${app.base}/start`);
    expect(await next()).toContain('Your first week');
    await page.getByRole('link', { name: 'Go to the week' }).click();
    await page.getByRole('button', { name: 'Plan this week' }).click();
    expect(await page.textContent('[role=status]')).toContain('The week is planned');
    await page.goto(`${app.base}/start`);
    expect(await page.locator('details[open]').count()).toBe(0);
  });
});

describe('the demonstration', () => {
  const app = useBrowser();

  it('is told what to wash for without JavaScript, at a phone, and plans by it', async () => {
    const page = await app.open('/start', { javaScript: false, width: 390 });
    await page.getByText('What you pour in').click();
    await page.getByRole('link', { name: 'What is washed between two pours' }).click();
    const say = async (button: string, fields: Record<string, string>) => {
      for (const [label, text] of Object.entries(fields)) await page.getByLabel(label, { exact: true }).fill(text);
      await page.getByRole('button', { name: button, exact: true }).click();
    };
    await say('Write the scent down', { What: 'blk-sp-cedar', Scent: 'Heavy' });
    await say('Write the scent down', { What: 'blk-sp-fig', Scent: 'light' });
    await page.getByLabel('After', { exact: true }).selectOption('a heavy scent');
    await page.getByLabel('Before', { exact: true }).selectOption('a light scent');
    await say('Write it down', { Minutes: 'half an hour' });
    expect(await page.getByLabel('Minutes').getAttribute('aria-invalid')).toBe('true');
    expect(await page.getByLabel('After', { exact: true }).inputValue()).toBe('scent:heavy');
    await say('Write it down', { Minutes: '30' });
    await say('Write it down', { Minutes: '15' });
    expect(await page.textContent('main')).toContain(
      'After a heavy scent, before a light one, in any vessel: 30 minutes.',
    );
    await expectSoundEverywhere(app, '/start/washing');
    // which is every pour after another thing
    await page.goto(`${app.base}/week`);
    await page.getByRole('button', { name: /^Plan/ }).click();
    expect(await page.textContent('main')).toMatch(/Wash [A-Z0-9-]+ first: (15|30) minutes, after /);
    await page.goto(`${app.base}/start/washing`);
    await page.getByRole('button', { name: /^Take it away: After anything/ }).click();
    expect(await page.textContent('[role=status]')).toContain('taken away');
    await page.getByRole('button', { name: /^Take it away/ }).click();
    expect(await page.textContent('main')).toContain('Nothing is said yet.');
  });

  it('is told who works there without JavaScript, at a phone, and plans by it', async () => {
    const page = await app.open('/start', { javaScript: false, width: 390 });
    await page.goto(`${app.base}/start/people`);
    const write = async (fields: Record<string, string>) => {
      for (const [label, text] of Object.entries(fields)) await page.getByLabel(label, { exact: true }).fill(text);
      await page.getByRole('button', { name: 'Write it down' }).click();
    };
    await write({ Name: 'Ada', 'May do what not all may': 'lye, hot wax', Thursday: 'all day' });
    expect(await page.getByLabel('Thursday').getAttribute('aria-invalid')).toBe('true');
    expect(await page.getByLabel('Name', { exact: true }).inputValue()).toBe('Ada');
    await write({ Thursday: '240' });
    expect(await page.textContent('main')).toContain('Ada: Thursday 240 minutes; may do lye, hot wax.');
    await expectSoundEverywhere(app, '/start/people');
    await page.getByRole('link', { name: 'Change Ada' }).click();
    await write({ Friday: '240' });
    expect(await page.textContent('main')).toContain('Ada: Thursday to Friday 240 minutes; may do lye, hot wax.');
    await page.goto(`${app.base}/week`);
    await page.getByRole('button', { name: /^Plan/ }).click();
    const week = (await page.textContent('main'))!;
    expect(week).toContain('of 240 bench minutes');
    expect(week).not.toContain('of 360 bench minutes');
    await page.goto(`${app.base}/start/people`);
    await write({ Name: 'Wide'.repeat(20), 'May do what not all may': 'wide'.repeat(15), Monday: '60' });
    await expectSound(await app.open('/start/people', { width: 390 }));
    await page.getByRole('button', { name: /^Take Wide/ }).click();
    await page.getByRole('button', { name: 'Take Ada off the list' }).click();
    expect(await page.textContent('[role=status]')).toContain('off the list');
    expect(await page.textContent('main')).toContain('Nobody is on it yet.');
  });

  it('says what it is, goes with one word, and can be had again', async () => {
    const page = await app.open('/start', { javaScript: false, width: 390 });
    expect(await page.textContent('h1')).toBe('This is the demonstration');
    expect(await page.textContent('.masthead .name')).toBe('Quarry Lane Workshop');
    expect(await page.textContent('footer')).toContain('Everything here is invented');
    await page.getByText('Take the demonstration away', { exact: true }).first().click();
    await page.getByLabel('To be sure').fill('yes');
    await page.getByRole('button', { name: 'Take it away' }).click();
    expect(await page.textContent('#remove-word-fault')).toContain('Nothing was removed');
    expect((await app.app.database.query('select from item')).length).toBeGreaterThan(50);
    await page.getByLabel('To be sure').fill('Remove');
    await page.getByRole('button', { name: 'Take it away' }).click();
    expect(await page.textContent('[role=status]')).toContain('This workshop is empty, and yours');
    expect(await app.app.database.query('select from item')).toEqual([]);
    await page.getByRole('button', { name: 'Load the demonstration' }).click();
    expect(await page.textContent('[role=status]')).toContain('The demonstration is loaded');
  });

  it('is sound at both widths, by day and by night', async () => {
    await expectSoundEverywhere(app, '/start');
    const page = await app.open('/start', { width: 390 });
    for (const summary of await page.locator('summary').all()) await summary.click();
    await expectSound(page);
  });
});
