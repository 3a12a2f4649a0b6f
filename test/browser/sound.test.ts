import { expect, it } from 'vitest';
import { expectSound, useBrowser } from '../support/browser.js';

const app = useBrowser({ demo: false });

const UNREADABLE = { actual: [expect.stringContaining('color-contrast')] };

/** A page of rows, each a style of its item and one of its text. */
async function pageOf(rows: [item: string, text: string][]) {
  const page = await app.open('/start');
  // where no policy of ours forbids a style of its own
  await page.goto('about:blank');
  const items = rows.map(([item, text]) => `<li style="${item}"><span style="${text}">Cedar</span></li>`).join('');
  await page.setContent(
    `<!doctype html><html lang="en"><title>Rows</title><body style="background: #fff; color: #000">
     <main><h1>Rows</h1><ul style="list-style: none">${items}</ul></main></body></html>`,
  );
  return page;
}

it('a row that looks as the one before it is as sound', async () => {
  await expectSound(
    await pageOf([
      ['', 'color: #333'],
      ['', 'color: #333'],
      ['', ''],
    ]),
  );
});

it.each<[string, [string, string]]>([
  ['in its own colour', ['', 'color: #ccc']],
  ['on what it stands on', ['background: #333', '']],
  ['in what it lies over', ['position: relative; top: 0; background: #333', '']],
  ['by what shines through', ['opacity: 0.3', '']],
])('a row that cannot be read is found among others that can: %s', async (_, bad) => {
  const page = await pageOf([['', ''], ['', ''], bad, ['', '']]);
  await expect(expectSound(page)).rejects.toMatchObject(UNREADABLE);
});

it('what is placed over something else is looked at by itself', async () => {
  const over = 'position: absolute; top: 0; left: 0; width: 20em; height: 4em';
  const page = await pageOf([
    [`${over}; background: #333`, 'color: #eee'],
    [over, 'color: #eee'],
    ['', ''],
  ]);
  await page.evaluate(`document.querySelector('ul').style.position = 'relative'`);
  await expectSound(page);
  // the same text, moved to where nothing dark is under it
  await page.evaluate(`document.querySelectorAll('li')[1].style.top = '30em'`);
  await expect(expectSound(page)).rejects.toMatchObject(UNREADABLE);
});
