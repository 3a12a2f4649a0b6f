import { describe, expect, it } from 'vitest';
import { expectSound, expectSoundEverywhere, useBrowser } from '../support/browser.js';

const app = useBrowser();

/** Pages of a PDF as Chromium writes it, each an object of its own. */
const pagesOf = (pdf: Buffer): number => pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g)?.length ?? 0;

describe('a formula', () => {
  it('is found in the list, and shows its parts and grams for any batch', async () => {
    const page = await app.open('/formulas', { width: 390 });
    await page.getByLabel('Name or code').fill('hedge rose');
    await page.getByRole('button', { name: 'Show' }).click();
    await page.getByRole('link', { name: 'Hedge Rose mist, bulk' }).click();
    await page.getByLabel('Put in').fill('5 kg');
    await page.getByRole('button', { name: 'Work it out' }).click();
    // base qs, 1.5 % of it fragrance, the same of solubiliser: 1 / 1.03 of 5 kg is 4854.369 g
    const base = page.getByRole('row').filter({ hasText: 'Water and solubiliser base' });
    expect(await base.textContent()).toContain('97.0874 %');
    expect(await base.textContent()).toContain('4854.4 g');
    // 72.8 g at 0.1892 a gram, the price of the 4 oz pack: 118 ml of 0.989 g/ml are 116.702 g, for 27.40
    expect(await page.getByRole('row').filter({ hasText: 'Hedge Rose fragrance' }).textContent()).toContain('€13.77');
    await expectSound(page);
  });

  it('says at the field what is wrong with a batch', async () => {
    const page = await app.app.request('GET', '/formulas/BLK-MI-ROSE?batch=3+cups');
    expect(page.status).toBe(422);
    expect(page.text).toContain('Household measures vary: weigh it.');
  });

  it('has cautions and steps on a sheet of one page, with advice below the scale', async () => {
    const page = await app.open('/formulas/BLK-MI-ROSE/sheet?batch=30+g');
    expect(await page.textContent('.weigh')).toContain('0.4 gsee below');
    expect(await page.textContent('main')).toContain('Solubiliser is lighter than the scale weighs well');
    expect(await page.textContent('.cautions')).toContain('Burns: Hedge Rose fragrance');
    await page.goto(`${app.base}/formulas/BLK-SO-OAT/sheet?batch=2.5+kg`);
    expect(await page.textContent('.weigh')).toContain('217.5 g');
    expect(await page.textContent('.cautions')).toContain('never water into the lye');
    expect(pagesOf(await page.pdf({ format: 'A4' }))).toBe(1);
  });

  it('is sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, '/formulas');
    await expectSoundEverywhere(app, '/formulas/BLK-SO-OAT');
    await expectSoundEverywhere(app, '/formulas/BLK-MI-ROSE/new');
    await expectSoundEverywhere(app, '/formulas/BLK-MI-ROSE/sheet?batch=30+g');
  });
});

describe('writing a formula', () => {
  it('works out as it is typed, and says which line is wrong and why', async () => {
    const page = await app.open('/formulas/BLK-SP-FIG/new');
    const solved = page.locator('#solved-2');
    expect(await solved.textContent()).toMatch(/^4\.7619 %, 47\.6 g, €/);
    const amount = page.getByLabel('Amount of line 2');
    await amount.fill('8');
    // 8 % of the base is 8 / 108 of the whole
    await page.locator('#solved-2', { hasText: '7.4074 %, 74.1 g' }).waitFor();
    expect(await amount.inputValue()).toBe('8');
    await page.getByLabel('Line 1 is base').uncheck();
    await page.locator('#solution', { hasText: 'Line 2: ' }).waitFor();
    expect(await solved.textContent()).toBe('A load counts on base lines, and no line is marked as base.');
    expect(await solved.getAttribute('class')).toBe('fault');
    expect(await amount.getAttribute('aria-describedby')).toBe('solved-2');
    await page.getByLabel('Line 1 is base').check();
    await page.locator('#solution', { hasText: 'Adds up to 100 %' }).waitFor();
    await expectSound(page);
  });

  it('is worked out and kept on a phone without JavaScript, and shows what changed', async () => {
    const page = await app.open('/formulas/BLK-MI-LAV/new', { width: 390, javaScript: false });
    await page.getByLabel('Amount of line 2').fill('2');
    await page.getByRole('button', { name: 'Work it out' }).click();
    expect(await page.textContent('#solved-2')).toContain('1.9231 %');
    await page.getByRole('button', { name: 'More lines' }).click();
    expect(await page.getByLabel('Amount of line 9').count()).toBe(1);
    await page.getByLabel('Item of line 4').fill('RM-NOTHING');
    await page.getByLabel('Amount of line 4').fill('1');
    await page.getByRole('button', { name: 'Keep it' }).click();
    expect(await page.textContent('#solved-4')).toBe('There is no item RM-NOTHING.');
    expect(await page.getByLabel('Amount of line 4').inputValue()).toBe('1');
    await page.getByLabel('Item of line 4').fill('RM-GLYCERIN');
    await page.getByLabel('Rests, days').fill('ten');
    await page.getByRole('button', { name: 'Keep it' }).click();
    expect(await page.textContent('#new-restDays-fault')).toBe('Write a whole number, such as 40.');
    await page.getByLabel('Rests, days').fill('9');
    await page.getByRole('button', { name: 'Keep it' }).click();
    expect(await page.textContent('[role=status]')).toContain('Version 2 is kept');
    const change = async (name: string) =>
      (await page.locator('section').last().getByRole('row').filter({ hasText: name }).allTextContents()).join();
    expect(await change('Lavender Row fragrance')).toContain('changed');
    expect(await change('Vegetable glycerine')).toContain('new');
    expect(await change('Rests')).toContain('9 days7 dayschanged');
    await expectSoundEverywhere(app, '/formulas/BLK-MI-LAV');
  });

  it('tells the first version from the next, and that a material is bought', async () => {
    await app.app.request('POST', '/api/items', {
      code: 'NEW-BULK',
      name: 'New bulk',
      kind: 'bulk',
      measure: 'weighed',
    });
    const page = await app.open('/formulas/NEW-BULK');
    expect(await page.textContent('main')).toContain('Nothing says how it is made yet');
    await page.getByRole('link', { name: 'Write the first version' }).click();
    await page.getByLabel('Item of line 1').fill('rm-soy');
    await page.getByLabel('How line 1 counts').selectOption('qs');
    await page.getByRole('button', { name: 'Keep it as version 1' }).click();
    await page.waitForURL('**/formulas/NEW-BULK?said=kept');
    expect(await page.textContent('main')).toContain('100 %');
    expect(await (await app.open('/formulas/RM-SOY/new')).textContent('main')).toContain(
      'It is bought, not made here.',
    );
  });
});
