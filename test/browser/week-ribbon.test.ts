import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { type OpenOptions, WIDTHS, useBrowser } from '../support/browser.js';
import { contrast, drawnIn } from '../support/contrast.js';

const WEEK = '/week/2026-11-30';
const AFTER = '/week/2026-12-07';
const app = useBrowser();

const SVG = '[aria-label^="The week ribbon"] svg';
const TEXT_LEAST = 4.5;
const EDGE_LEAST = 3;
const LETTERS_LEAST = 12;

async function opened(path: string, how?: OpenOptions): Promise<Page> {
  const page = await app.open(path, how);
  await page.getByText('Picture of the week', { exact: true }).click();
  return page;
}

async function planned(path: string, width: (typeof WIDTHS)[number] = 1280): Promise<Page> {
  const page = await app.open(path, { width });
  await page.getByRole('button', { name: 'Plan this week' }).click();
  return page;
}

it('the arithmetic of contrast gives what is published for black, white and the grey that is just enough', () => {
  expect(contrast('rgb(0, 0, 0)', 'rgb(255, 255, 255)')).toBe(21);
  expect(contrast('rgb(118, 118, 118)', 'rgb(255, 255, 255)')).toBeCloseTo(4.54, 2);
  expect(contrast('rgb(119, 119, 119)', 'rgb(255, 255, 255)')).toBeLessThan(TEXT_LEAST);
});

describe('the ribbon of a week', () => {
  it('can be read: proposed, set aside, standing from before, short, by day and by night, on a phone and at a desk', async () => {
    await (await planned(WEEK)).getByRole('button', { name: 'Set the lots aside' }).click();
    const lines = [{ code: 'SP-CEDAR-100', quantity: 2000, shipBy: '2026-12-18' }];
    expect((await app.app.request('POST', '/api/orders', { channel: 'webshop', number: '#7001', lines })).status).toBe(
      201,
    );
    await planned(AFTER);
    const kinds = new Set<string>();
    const least = { text: Infinity, edge: Infinity, px: Infinity };
    for (const path of [WEEK, AFTER])
      for (const width of WIDTHS)
        for (const dark of [false, true])
          for (const drawn of await drawnIn(await opened(path, { width, dark }), SVG)) {
            kinds.add(drawn.what.trim());
            const { kind, what, colour, ground, px } = drawn;
            least[kind] = Math.min(least[kind], contrast(colour, ground));
            expect(
              contrast(colour, ground),
              `${what} ${path} ${width} ${dark ? 'dark' : 'light'}`,
            ).toBeGreaterThanOrEqual(kind === 'text' ? TEXT_LEAST : EDGE_LEAST);
            if (kind === 'text') least.px = Math.min(least.px, px);
            if (kind === 'text') expect(px, what).toBeGreaterThanOrEqual(LETTERS_LEAST);
          }
    console.error(
      `least contrast of text ${least.text.toFixed(2)}, of edges ${least.edge.toFixed(2)}; letters ${least.px} px`,
    );
    expect([...kinds]).toEqual(
      expect.arrayContaining([
        'rect.pour set',
        'rect.pour proposed',
        'rect.pour standing',
        'rect.pour short',
        'path.tail',
        'rect.level',
      ]),
    );
  });

  it('has a row for each vessel that stands full, also where nothing is poured into it that week', async () => {
    const standing = await app.app.database.query<{ vessel: string; name: string }>(
      `select distinct v.code as vessel, i.name from batch b join vessel v on v.id = b.vessel_id join item i on i.id = b.item_id
       where b.day < '2026-12-07' and b.emptied_on >= '2026-12-07' and b.status <> 'cancelled' order by 1`,
    );
    expect(standing.length).toBeGreaterThan(2);
    const page = await opened(AFTER);
    const texts = await page.locator(`${SVG} text`).allTextContents();
    const said = await page.textContent('main');
    for (const { vessel, name } of standing) {
      expect(texts, vessel).toContain(vessel);
      expect(said).toContain(`${vessel} with ${name}, until `);
    }
  });
});
