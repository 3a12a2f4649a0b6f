import { beforeAll, describe, expect, it } from 'vitest';
import type { RunView } from '../../src/planning/planning.schema.js';
import { expectSound, expectSoundEverywhere, faultsOf, useBrowser, WIDTHS } from '../support/browser.js';
import type { FigStory } from '../support/fig-story.js';
import { tellFigStory } from '../support/fig-story.js';
import { readPdf } from '../support/printed.js';

const app = useBrowser();
let story: FigStory;
beforeAll(async () => {
  story = await tellFigStory(app.app);
  const run = await app.app.request<RunView>('POST', '/api/runs', {});
  await app.app.request('POST', `/api/runs/${run.body.id}/commit`);
}, 180_000);

const statusOf = async (lot: string) =>
  (await app.app.request<{ status: string }>('GET', `/api/lots/${lot}`)).body.status;

describe('two complaints, weeks apart', () => {
  it.each(WIDTHS)('are written down as they come, at %i px', async (width) => {
    const page = await app.open('/complaints', { width, javaScript: false });
    await page.getByLabel('What was reported').fill('A red rash where the spray settled');
    await page.getByLabel('Harm', { exact: true }).selectOption('skin');
    await page.getByLabel('Lot on the label').fill('NOT-A-LOT');
    await page.getByRole('button', { name: 'Write it down' }).click();
    const field = page.getByLabel('Lot on the label');
    const described = (await field.getAttribute('aria-describedby'))!.split(' ').at(-1)!;
    expect(await page.textContent(`#${described}`)).toContain('There is no lot NOT-A-LOT');
    expect(await page.getByLabel('What was reported').inputValue()).toContain('red rash');
    if (width === WIDTHS[0]) return;
    await page.getByLabel('The day it was reported, if not today').fill('2026-11-05');
    await field.fill(story.spray);
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.waitForURL('**/complaints/C26-001');
    expect(await page.textContent('main')).toMatch(/skin reaction.*Hold what is left.*local authority/s);
  });

  it('lead to the one lot they share, hold it, show what the plan loses, reach the customers, and are closed', async () => {
    const page = await app.open('/complaints');
    await page.getByLabel('What was reported').fill('The flame shot up and blackened the tin');
    await page.getByLabel('Harm', { exact: true }).selectOption('fire');
    await page.getByLabel('Or the order: channel').selectOption('webshop');
    await page.getByLabel('Number of the order').fill('A-2');
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.waitForURL('**/complaints/C26-002');
    // two lots went out with the order: the customer says which it was
    await page.getByLabel('Lot', { exact: true }).fill(`https://shop.example.org/shelf/lots/${story.candle}`);
    await page.getByRole('button', { name: 'That is it' }).click();
    await expectSound(page);

    await page.getByRole('link', { name: 'Complaints', exact: true }).click();
    const suspect = page.locator('tr', { hasText: `lot ${story.fragrance}` });
    expect(await suspect.textContent()).toMatch(/C26-001, C26-002.*2 of 2.*2 of 3.*1 in 3/s);
    await suspect.getByRole('link').click();
    await page.waitForURL(`**/trace/${story.fragrance}*`);
    expect(await page.locator('.genealogy svg').textContent()).toContain(story.spray);
    await expectSound(page);

    await page.getByLabel('Why it is suspected').fill('Two harms within three weeks');
    await page.getByRole('button', { name: 'Open a recall' }).click();
    await page.waitForURL('**/recalls/R26-001');
    expect(await page.textContent('main')).toMatch(/It takes from the plan and from orders.*for batch B/s);
    expect(await statusOf(story.fragrance)).toBe('released');
    await page.getByRole('button', { name: 'Hold all of it' }).click();
    await page.waitForURL('**/recalls/R26-001?said=held');
    expect(await statusOf(story.fragrance)).toBe('held');
    const recipients = await page.locator('table', { hasText: 'Reach them' }).textContent();
    expect(recipients).toMatch(/Ada Elverby.*Hal Ivens.*Ines Garside/s);
    expect(recipients).not.toContain('Two Doors Down');
    await expectSound(page);

    const printed = (await readPdf(await page.pdf({ format: 'A4' }))).map(({ text }) => text).join(' ');
    expect(printed).toMatch(/Recall list: 3 recipients.*Ada Elverby.*Hal Ivens.*Ines Garside.*Lots held: 1/s);
    expect(printed).not.toContain('Hold everything affected');

    await page.getByRole('button', { name: 'Write it down' }).first().click();
    await page.waitForURL('**/recalls/R26-001?said=written');
    await page.getByText('Write down what a recipient says').click();
    await page.getByLabel('Order and lot').selectOption(`webshop/A-1 ${story.spray}`);
    await page.getByLabel('They got').fill('10');
    await page.getByLabel('Still there').fill('11');
    await page.locator('form[action$="/answer"] button').click();
    expect(await page.textContent('[role=alert]')).toContain('They cannot account for more than they got');
    await page.getByLabel('Still there').fill('7');
    await page.getByLabel('Used', { exact: true }).fill('3');
    await page.locator('form[action$="/answer"] button').click();
    await page.waitForURL('**/recalls/R26-001?said=answered');
    await page.getByLabel('Outcome, with which it is closed').fill('The supplier took the fragrance back.');
    await page.getByRole('button', { name: 'Close the recall' }).click();
    await page.waitForURL('**/recalls/R26-001?said=closed');
    expect(await page.textContent('main')).toContain('Reconciled');
    // the browser notes the answer that was refused on purpose, and nothing else
    expect(faultsOf(page)).toEqual([expect.stringContaining('422')]);
  });

  it('end in letters and in one report', async () => {
    const report = await app.app.app.inject({ method: 'GET', url: '/api/recalls/R26-001/report.pdf' });
    const text = (await readPdf(report.rawPayload)).map((page) => page.text).join(' ');
    for (const said of [
      story.fragrance,
      'red rash',
      'blackened',
      'Lots held: 1',
      'The supplier took the fragrance back.',
      'unexplained',
    ])
      expect(text).toContain(said);
    const letters = await app.app.app.inject({ method: 'GET', url: '/api/recalls/R26-001/letters.pdf?only=all' });
    expect((await readPdf(letters.rawPayload)).map((page) => page.text.slice(0, 12))).toEqual(
      expect.arrayContaining([expect.stringContaining('Ada Elverby')]),
    );
  });
});

describe('the pages of a trace', () => {
  it('are sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    for (const path of [
      '/complaints',
      `/trace/${story.candle}`,
      '/recalls',
      '/recalls/R26-001',
      '/recalls/letter',
      '/complaints/C26-002',
    ])
      await expectSoundEverywhere(app, path);
  });

  it('take a scanned code, and begin a drill', async () => {
    const page = await app.open('/complaints', { width: 390, javaScript: false });
    await page.getByLabel('Trace a lot').fill(`(01)09506000134352(10)${story.candle}`);
    await page.getByRole('button', { name: 'Trace it' }).click();
    await page.waitForURL(`**/trace/${story.candle}`);
    expect(await page.textContent('main')).toMatch(/Where all of it is|reconciled/i);
    const recalls = await app.open('/recalls', { javaScript: false });
    await recalls.getByRole('button', { name: 'Begin a drill' }).click();
    await recalls.waitForURL('**/recalls/D26-001');
    const took = /Reconciled\s*(.*found in \d+ ms, all in \d+ ms)/.exec(await recalls.innerText('main'))!;
    process.stdout.write(`A mock recall: ${took[1]}\n`);
    expect(Number(/all in (\d+) ms/.exec(took[1]!)![1])).toBeLessThan(60_000);
  });
});
