import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, it } from 'vitest';
import type { BatchView } from '../../src/bench/bench.schema.js';
import { carry } from '../support/batch-acts.js';
import { type Bench, benchOf } from '../support/bench.js';
import {
  button,
  expectRecord,
  expectWhole,
  fill,
  fold,
  picture,
  said,
  weigh,
  weighRest,
} from '../support/bench-pages.js';
import { expectSound, expectSoundEverywhere, faultsOf, useBrowser } from '../support/browser.js';

const app = useBrowser();
let bench: Bench;

beforeAll(async () => {
  bench = benchOf(app.app);
  const run = await bench.done<{ id: number }>('/api/runs');
  await bench.done(`/api/runs/${run.id}/commit`);
}, 120_000);

const phone = (path: string) => app.open(path, { width: 390 });
const weighAsSaid = (page: Page, code: string) => weighRest(page, bench, code);
const isClean = () => expectWhole(app);
const expectPaper = (code: string, words: readonly string[]) => expectRecord(app, bench, code, words);

describe('a spray on a phone', () => {
  let code: string;
  let mended: string;

  it('is poured with a mis-scan, an overweighing, a rescaling and a pause, and rejected', async () => {
    code = await bench.batchOf('BLK-SP-FIG');
    const page = await phone('/bench');
    await expectSound(page);
    await picture(page, 'bench');
    await page.getByRole('link', { name: 'Green Fig Yard spray, bulk' }).first().click();
    await page.waitForURL(`**/batches/${code}`);
    await expectSound(page);
    await picture(page, 'spray-1');
    expect(await page.textContent('[role=note]')).toContain('Earth the drum and the vessel');
    const [base, scent] = (await bench.batch(code)).inputs.map(({ reserved }) => reserved[0]!.source);
    // the fragrance was scanned where the base belongs
    await weigh(page, scent!, '100 g');
    expect(await page.textContent('[role=alert]')).toContain(`Lot ${scent} is of FO-FIG`);
    expect(await page.textContent('main')).toContain(`Take lot ${base} instead`);
    const target = (await bench.batch(code)).inputs[0]!.quantity;
    await weigh(page, base!, `ST,GS,+  ${(target * 1.06) / 1000} g\r`);
    expect(await page.textContent('[role=alert]')).toMatch(
      /[\d.]+ kg of Alcohol spray base is typed; [\d.]+ to [\d.]+ kg is good/,
    );
    expect((await bench.batch(code)).inputs[0]!.weighed).toBe(0);
    await picture(page, 'spray-asked');
    await button(page, 'It is so: write it down');
    expect(await said(page)).toContain('It is written down');
    expect(await page.textContent('main')).toContain('What the weights do to the formula');
    await picture(page, 'spray-over');
    await button(page, 'Bring the rest into proportion');
    expect(await said(page)).toContain('brought into proportion');
    const { inputs } = await bench.batch(code);
    expect(inputs[1]!.quantity).toBeGreaterThan(inputs[1]!.meant);
    await fill(page, 'pause', { 'What is to be known': 'the bell rang' });
    await button(page, 'Pause it');
    // taken up again on another device, without JavaScript
    const other = await app.open(`/batches/${code}`, { width: 390, javaScript: false });
    expect(await other.textContent('main')).toContain('the bell rang');
    await button(other, 'Take it up again');
    await weighAsSaid(other, code);
    await fill(other, 'finish', {
      'Weight of what was made': `${Math.floor((target * 1.06 * 1.035) / 1_000_000) * 1000} g`,
      'Density as measured': '0.842',
      'Where it stands': 'dark shelf',
      'Why more or less was lost than usual': 'the jug dripped',
    });
    await button(other, 'Close it');
    expect(await said(other)).toContain('The batch is closed');
    await picture(other, 'spray-closed');
    await fill(other, 'reject', { 'Why it is not good': 'hazy against the light' });
    await fold(other, 'reject').getByLabel('Set its lot aside').check();
    await button(other, 'Reject it');
    expect(await other.textContent('main')).toContain('is rejected');
    await isClean();
    await expectPaper(code, ['the bell rang', 'rest of the batch rescaled', 'hazy against the light', '0.842 g/ml']);
  });

  it('is mended in a batch of its own, released early with a reason, and filled', async () => {
    const page = await phone(`/batches/${code}`);
    await fill(page, 'mend', {
      'How it is to be mended': 'a little more alcohol',
      'What is added': 'RM-ALCOHOL',
      'How much of it': '50 g',
    });
    await button(page, 'Begin that batch');
    await page.waitForURL((url) => !url.pathname.includes(code));
    mended = decodeURIComponent(new URL(page.url()).pathname.split('/')[2]!);
    expect(await page.textContent('section.step')).toContain('set aside to be mended');
    const lot = (await bench.batch(code)).lot!;
    await weigh(page, lot, `${(await bench.lot(lot)).onHand / 1000} g`);
    await weigh(page, (await freeLot('RM-ALCOHOL'))!, '50');
    await fill(page, 'finish', { 'Weight of what was made': `${(await bench.batch(mended)).output / 1000} g` });
    await button(page, 'Close it');
    await fill(page, 'release', { 'Why it is released': 'rested before' });
    await button(page, 'Release it');
    expect(await page.textContent('[role=alert]')).toContain('Still to be checked');
    await bench.check(mended);
    await button(page, 'Release it');
    expect(await said(page)).toContain('The batch is released');
    await picture(page, 'spray-released');
    await isClean();
    await expectPaper(mended, ['mends the rejected lot', 'rested before', 'Against a light']);
    const filled = await bench.batchOf('SP-SMOKE-100');
    await page.goto(`${app.base}/batches/${filled}`);
    await weighAsSaid(page, filled);
    const pieces = (await bench.batch(filled)).output;
    await fill(page, 'finish', { 'Pieces made': String(pieces) });
    await button(page, 'Close it');
    await bench.check(filled);
    await page.reload();
    await button(page, 'Release it');
    expect(await said(page)).toContain('The batch is released');
    await isClean();
    await expectPaper(filled, [`${pieces} pieces`]);
  });
});

async function freeLot(item: string): Promise<string | undefined> {
  const rows = await app.app.database.query<{ code: string }>(
    `select l.code from lot l join item i on i.id = l.item_id
     where i.code = $1 and l.status = 'released' and l.on_hand > 100000 order by l.id limit 1`,
    [item],
  );
  return rows[0]?.code;
}

describe('a candle on a phone', () => {
  it('is poured, filled, cured, labelled after it, and released', async () => {
    await carry(bench, await bench.batchOf('BASE-WAX'));
    const wax = await bench.batchOf('BLK-CA-AMBER');
    const page = await phone(`/batches/${wax}`);
    expect(await page.textContent('[role=note]')).toContain('Never put water on burning wax');
    // typed wrong, taken back, and weighed anew: all three stay in the record
    const { source } = (await bench.batch(wax)).inputs[0]!.reserved[0]!;
    await weigh(page, source, '12');
    await fill(page, 'take-back', { 'What was wrong': 'a slip of the finger' });
    await button(page, 'Take it back');
    expect(await said(page)).toContain('both stay in the record');
    expect((await bench.batch(wax)).inputs[0]!.weighed).toBe(0);
    await weighAsSaid(page, wax);
    const { output } = await bench.batch(wax);
    await fill(page, 'finish', { 'Weight of what was made': `${output / 1000} g` });
    await button(page, 'Close it');
    // wax waits for nothing
    await button(page, 'Release it');
    expect(await said(page)).toContain('The batch is released');
    await expectPaper(wax, ['a slip of the finger', 'Taken back by']);
    const code = await bench.batchOf('CA-AMBER-220');
    await page.goto(`${app.base}/batches/${code}`);
    await weighAsSaid(page, code);
    const pieces = (await bench.batch(code)).output;
    await fill(page, 'finish', {
      'Pieces made': String(pieces),
      'Left over of': '12.5 g',
      'Why more or less': 'test pours',
    });
    await button(page, 'Close it');
    expect(await page.textContent('main')).toContain('cures until');
    await picture(page, 'candle-curing');
    await bench.check(code);
    // labels go on once it has cured
    await page.reload();
    await weighAsSaid(page, code);
    expect((await bench.batch(code)).inputs.every(({ done }) => done)).toBe(true);
    await fill(page, 'release', { 'Why it is released': 'the market is tomorrow' });
    await button(page, 'Release it');
    expect(await said(page)).toContain('The batch is released');
    await isClean();
    await expectPaper(code, ['the market is tomorrow', 'Burn test', 'Left over', 'Label']);
  });
});

describe('a soap on a phone', () => {
  it('is made with its cautions, given its water from the tap, cut and released', async () => {
    const loaf = (
      await app.app.database.query<{ code: string }>(
        `select s.code from batch b join item i on i.id = b.item_id join batch_input bi on bi.batch_id = b.id
         join reservation r on r.batch_input_id = bi.id join batch s on s.id = r.batch_id
       where i.code = 'SO-OAT-110' group by b.id, s.code order by b.id desc limit 1`,
      )
    )[0]!.code;
    const page = await phone(`/batches/${loaf}`);
    expect(await page.textContent('[role=note]')).toContain('Lye into the water, never water into the lye');
    await weighAsSaid(page, loaf);
    const { output, inputs } = await bench.batch(loaf);
    expect(inputs.find(({ stocked }) => !stocked)!.weighed).toBeGreaterThan(0);
    await picture(page, 'soap-weighed');
    await fill(page, 'finish', { 'Weight of what was made': `${output / 1000} g` });
    await button(page, 'Close it');
    await fill(page, 'release', { 'Why it is released': 'firm enough to cut' });
    await button(page, 'Release it');
    expect(await said(page)).toContain('The batch is released');
    const code = await bench.batchOf('SO-OAT-110');
    const bars: BatchView = await bench.batch(code);
    await page.goto(`${app.base}/batches/${code}`);
    await weighAsSaid(page, code);
    await fill(page, 'finish', { 'Pieces made': String(bars.output) });
    await button(page, 'Close it');
    await page.reload();
    await weighAsSaid(page, code);
    await bench.check(code);
    await fill(page, 'release', { 'Why it is released': 'shown to the chemist' });
    await button(page, 'Release it');
    expect(await said(page)).toContain('The batch is released');
    await isClean();
    await expectPaper(code, ['shown to the chemist', 'Zap test']);
    await expectPaper(loaf, ['Filtered tap water']);
  });
});

describe('a dead spot', () => {
  it('keeps what was typed and its key, and sends it once when there is a connection again', async () => {
    const code = await bench.batchOf('BASE-DIFF');
    const page = await phone(`/batches/${code}`);
    const { source, quantity } = (await bench.batch(code)).inputs[0]!.reserved[0]!;
    expect(await page.getByLabel('Lot: scan or type its code').inputValue()).toBe(source);
    await page.context().setOffline(true);
    await page.getByLabel('The scale shows').fill(`${quantity / 1000} g`);
    await page.getByRole('button', { name: 'It is weighed in' }).click();
    await page.getByText('Not sent: there is no connection').waitFor();
    expect((await bench.batch(code)).inputs[0]!.weighed).toBe(0);
    await page.context().setOffline(false);
    // as if it had been typed while the target stood there in the other unit
    const unit = page.locator('#weigh-quantity-unit');
    const other = (await unit.textContent()) === 'kg' ? 'g' : 'kg';
    const [key, typedIn] = [JSON.stringify(`lotwright.unsent ${code}/1`), JSON.stringify(other)];
    await page.evaluate(`localStorage.setItem(${key}, JSON.stringify(
      [...new Map(JSON.parse(localStorage.getItem(${key}))).set('quantity-unit', ${typedIn})]))`);
    await page.reload();
    expect(await unit.textContent()).toBe(other);
    await page.getByText('This was typed here before and not sent').waitFor();
    expect(await page.getByLabel('The scale shows').inputValue()).toBe(`${quantity / 1000} g`);
    await picture(page, 'unsent');
    await expectSoundBut(page);
    await button(page, 'Send it');
    await page.getByText('It is written down').waitFor();
    expect((await bench.batch(code)).inputs[0]!.weighed).toBe(quantity);
    await page.goto(`${app.base}/batches/${code}?line=1`);
    expect(await page.getByText('not sent').count()).toBe(0);
  });
});

/** A page that lost its connection logs that; nothing else. */
async function expectSoundBut(page: Page): Promise<void> {
  expect(faultsOf(page).filter((fault) => !/ERR_INTERNET_DISCONNECTED|Failed to fetch/.test(fault))).toEqual([]);
}

describe('the pages of the bench', () => {
  it('are sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, '/bench');
    const open = await bench.batchOf('BLK-MI-ROSE');
    await expectSoundEverywhere(app, `/batches/${open}`);
    const done = await bench.batchOf('SP-SMOKE-100');
    await expectSoundEverywhere(app, `/batches/${done}`);
    await expectSoundEverywhere(app, `/batches/${done}/record`);
  });
});
