import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { WIDTHS, useBrowser } from '../support/browser.js';

const WEEK = '/week/2026-11-30';
const app = useBrowser();

const TARGET_LEAST = 24;
/** Ten screens of a phone. */
const PHONE_HEIGHT = 10 * 844;
/** What stands in the head and foot of every page. */
const FRAME_STOPS = 15;

interface Size {
  height: number;
  stops: number;
  small: string[];
}

/** How high an open page is, how often Tab stops on it, and what of that is smaller than a finger needs. */
const sizeOf = (page: Page): Promise<Size> =>
  page.evaluate<Size>(`(() => {
    const stops = [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, summary, [tabindex="0"]')]
      .filter((one) => one.checkVisibility());
    const isSmall = (one) => {
      const box = one.getBoundingClientRect();
      return box.width < ${TARGET_LEAST} || box.height < ${TARGET_LEAST};
    };
    const small = stops.filter(isSmall).map((one) => one.outerHTML.slice(0, 120));
    return { height: document.documentElement.scrollHeight, stops: stops.length, small };
  })()`);

async function sizes(): Promise<Size[]> {
  const found: Size[] = [];
  for (const width of WIDTHS) {
    const size = await sizeOf(await app.open(WEEK, { width }));
    process.stdout.write(
      `The week at ${width} px: ${size.height} px high, ${size.stops} stops, ${size.small.length} small\n`,
    );
    found.push(size);
  }
  return found;
}

describe('the week of the demonstration', () => {
  it.each(['Plan this week', 'Set the lots aside'])(
    'is not long, and has few stops, all of them large enough: %s',
    async (act) => {
      await (await app.open(WEEK)).getByRole('button', { name: act }).click();
      const pours = await app.app.database.query(
        `select 1 from run r, jsonb_array_elements(r.proposal -> 'batches') b where (b ->> 'inWeek')::boolean`,
      );
      expect(pours.length).toBeGreaterThan(20);
      const found = await sizes();
      expect(found[0]!.height).toBeLessThan(PHONE_HEIGHT);
      for (const { stops, small } of found) {
        expect(small).toEqual([]);
        // why it is made and where it is moved to, each day's minutes, and what is folded
        expect(stops).toBeLessThan(FRAME_STOPS + 2 * pours.length + 40);
      }
    },
  );
});
