import { describe, expect, it } from 'vitest';
import { printed, runMessages } from './messages/run.js';

/** The long run is `npm run faults`; this is the same in small. */
const SMALL = { reminders: 200, workers: 2, faults: 4 };
const MS_MAX = 400_000;

describe('reminders, while workers are killed and the queue is lost', () => {
  it.each([
    { backend: 'postgres', seed: 7 },
    { backend: 'redis', seed: 8 },
  ] as const)(
    'are shown once and sent at least once under one id: jobs on $backend',
    async ({ backend, seed }) => {
      const figures = await runMessages({ ...SMALL, backend, seed });
      // without a Redis this part says why it cannot be: install redis-server or set TEST_REDIS_URL
      if ('missing' in figures) throw new Error(figures.missing);
      console.error(printed(figures));
      expect(figures).toMatchObject({ lost: [], strange: [], shownTwice: 0 });
      expect(figures).toMatchObject({ shown: SMALL.reminders, sent: SMALL.reminders });
      expect(figures.faults).toEqual({ kill: 1, 'lose the queue': 1, 'refuse mail': 1, 'offer twice': 1 });
      expect(figures.exits).toEqual([0, 0]);
      expect(figures.mails).toBeGreaterThanOrEqual(SMALL.reminders);
    },
    MS_MAX,
  );
});
