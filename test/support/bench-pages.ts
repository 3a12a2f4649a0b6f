import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import { verifyLedger } from '../../src/verify.js';
import type { Bench } from './bench.js';
import type { BrowserApp } from './browser.js';

/** Where pictures of the pages go, for whoever wants to look at them. */
const PICTURES = process.env['BENCH_PICTURES'];
export const picture = async (page: Page, name: string): Promise<void> => {
  if (PICTURES === undefined) return;
  mkdirSync(PICTURES, { recursive: true });
  await page.screenshot({ path: `${PICTURES}/${name}.png`, fullPage: true });
};

/** Sends a form and waits for the page that comes of it, with the script of the bench or without. */
async function send(page: Page, click: () => Promise<void>): Promise<void> {
  await page.locator('main').evaluate((main) => main.setAttribute('data-old', ''));
  await click();
  await page.locator('main:not([data-old])').waitFor();
}
export const button = (page: Page, name: string) =>
  send(page, () => page.getByRole('button', { name, exact: true }).click());
export const said = (page: Page) => page.textContent('[role=status]');
/** What a page says of what was sent, whether it was taken or refused. */
const answer = (page: Page) => page.locator('[role=status], [role=alert]').first().textContent();
export const fold = (page: Page, form: string) => page.locator(`form[action$="/${form}"]`);

/** Opens a fold if it is closed and fills its fields by their labels. */
export async function fill(page: Page, form: string, fields: Record<string, string>): Promise<void> {
  const details = page.locator('details', { has: fold(page, form) }).last();
  if ((await details.count()) > 0 && (await details.getAttribute('open')) === null)
    await details.locator('summary').click();
  for (const [label, text] of Object.entries(fields)) await fold(page, form).getByLabel(label).fill(text);
}

/** Weighs the line that stands open, as a scale types it. */
export async function weigh(page: Page, lot: string | null, quantity: string): Promise<void> {
  if (lot !== null) await page.getByLabel('Lot: scan or type its code').fill(lot);
  await page.getByLabel(/^(The scale shows|Pieces)$/).fill(quantity);
  await send(page, () => page.locator('form[action$="/weigh"] button.main').click());
}

/** Weighs all lines that are open now from the lots set aside for them, each as its sheet says. */
export async function weighRest(page: Page, bench: Bench, code: string): Promise<void> {
  for (;;) {
    const heading = page.locator('section.step h2');
    if ((await heading.count()) === 0) return;
    const at = Number(/^Line (\d+)/.exec((await heading.textContent())!)![1]);
    const batch = await bench.batch(code);
    const line = batch.inputs[at - 1]!;
    const [take] = line.reserved;
    const lot = line.stocked ? (line.reworkLot ?? take!.source) : null;
    const amount = take?.quantity ?? line.quantity - line.weighed;
    await weigh(page, lot, line.measure === 'weighed' ? `  ${amount / 1000} g\r` : String(amount));
    expect(await answer(page)).toContain('It is written down');
    if (!(await page.locator('section.step').count())) return;
    const after = await bench.batch(code);
    const isAfterRest = after.status !== 'resting' && after.readyOn > after.day;
    if (isAfterRest && after.inputs.filter(({ done }) => !done).every(({ step }) => step === 'pack')) return;
  }
}

export const expectWhole = async (app: BrowserApp): Promise<void> =>
  expect((await verifyLedger(app.app.database.url)).filter(({ wrong }) => wrong > 0)).toEqual([]);

/** The record holds every line, person and result, and prints on one page. */
export async function expectRecord(
  app: BrowserApp,
  bench: Bench,
  code: string,
  words: readonly string[],
): Promise<void> {
  const page = await app.open(`/batches/${code}/record`);
  const text = (await page.textContent('main'))!;
  const { inputs } = await bench.batch(code);
  for (const word of [...inputs.map(({ name }) => name), 'Yield', 'Loss', 'Cost', 'workshop', ...words])
    expect(text).toContain(word);
  await picture(page, `record-${code}`);
  const pdf = (await page.pdf({ preferCSSPageSize: true, format: 'A4' })).toString('latin1');
  expect(pdf.match(/\/Type\s*\/Page\b/g)).toHaveLength(1);
  await page.close();
}
