import { describe, expect, it } from 'vitest';
import type { CheckKindList } from '../../src/checks/checks.schema.js';
import { button, fill, picture, said } from '../support/bench-pages.js';
import { expectSoundEverywhere, useBrowser, WIDTHS } from '../support/browser.js';

const PATH = '/bench/settings';
const app = useBrowser();
const get = async <Body>(url: string) => (await app.app.request<Body>('GET', url)).body;
const kinds = async () => (await get<CheckKindList>('/api/check-kinds')).checkKinds;

describe('the settings of the bench', () => {
  it('are sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, PATH);
  });

  it.each(WIDTHS)('set the rules, a check and a sheet without JavaScript, at %i px', async (width) => {
    const page = await app.open('/bench', { width, javaScript: false });
    await page.getByRole('link', { name: 'Settings of the bench' }).click();
    await picture(page, `bench-settings-${width}`);
    // what is wrong is said beside its field, with what was written
    await page.getByLabel('The same, in what is rinsed off').fill('a little');
    await button(page, 'Write the rules down');
    const wrong = page.getByLabel('The same, in what is rinsed off');
    expect(await wrong.inputValue()).toBe('a little');
    expect(await wrong.getAttribute('aria-invalid')).toBe('true');
    await wrong.fill('0.02 %');
    await page.getByLabel('Contents of filled units are judged by').selectOption('eu-76-211');
    await button(page, 'Write the rules down');
    expect(await said(page)).toContain('The rules are written down');
    expect(await get('/api/bench-rules')).toMatchObject({ netRule: 'eu-76-211', rinseOffPpb: 200_000 });
    // the limits of a check that is there
    const burn = (await kinds()).find(({ family, measure }) => family === 'candle' && measure === 'number')!;
    await page.locator(`details#${burn.code} > summary`).click();
    await fill(page, `checks/${burn.code}`, { 'Lowest that is good': '90', 'Highest that is good': '20' });
    await button(page, 'Write the check down');
    expect(await page.textContent('[role=alert]')).toContain('highest cannot be below the lowest');
    await fill(page, `checks/${burn.code}`, { 'Lowest that is good': '12.5', 'Highest that is good': '20' });
    await button(page, 'Write the check down');
    expect(await said(page)).toContain('What was found before keeps the limits');
    expect((await kinds()).find(({ code }) => code === burn.code)).toEqual({
      ...burn,
      lowestE3: 12_500,
      highestE3: 20_000,
    });
    // one of the workshop's own
    const name = `Cap sits straight ${width}`;
    await page.getByText('Add a check', { exact: true }).click();
    await fill(page, 'settings/checks', {
      'What is checked': name,
      'The choices, each on a line': 'straight\ncrooked',
      'Which of them are good, each on a line': 'even',
    });
    await button(page, 'Add the check');
    expect(await page.textContent('[role=alert]')).not.toBe('');
    await fill(page, 'settings/checks', { 'Which of them are good, each on a line': 'straight' });
    await button(page, 'Add the check');
    expect((await kinds()).find((kind) => kind.name === name)).toMatchObject({
      family: 'spray',
      made: 'product',
      good: ['straight'],
      isRequired: true,
    });
    // and a sheet, whose last column must lie on the page
    await page.getByText('Add a sheet', { exact: true }).click();
    await fill(page, 'settings/sheets', {
      'What it is called': `Round ones ${width}`,
      Across: '6',
      Down: '5',
      'Width of the page': '210',
      'Height of the page': '297',
      'Width of a label': '40',
      'Height of a label': '40',
      'From the left edge to the first': '10',
      'From the top edge to the first': '12.5',
      'From the left of one to the left of the next': '45',
      'From the top of one to the top of the next': '55',
    });
    await button(page, 'Add the sheet');
    expect(await page.textContent('[role=alert]')).toContain('last column would not be on the page');
    await fill(page, 'settings/sheets', { Across: '4' });
    await button(page, 'Add the sheet');
    expect(await said(page)).toContain('The sheet is written down');
    const { labelSheets } = await get<{ labelSheets: object[] }>('/api/label-sheets');
    expect(labelSheets).toContainEqual(
      expect.objectContaining({ name: `Round ones ${width}`, columns: 4, topUm: 12_500, pitchYUm: 55_000 }),
    );
  });

  it('are of no use to who asks for what is not there', async () => {
    const form = { 'content-type': 'application/x-www-form-urlencoded' };
    for (const path of ['checks/no-such-check', 'sheets/no-such-sheet'])
      expect((await app.app.request('POST', `${PATH}/${path}`, 'name=x', form)).status).toBe(404);
  });
});
