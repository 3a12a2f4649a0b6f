import { describe, expect, it } from 'vitest';
import type { Arrangement } from './ledger/installation.js';
import { runLedger } from './ledger/run.js';

/** The long run is `npm run faults`; this is the same in small. */
const SMALL = { operations: 300, clients: 16, lots: 60, replays: 50 };
/** It takes some 20 seconds on two idle processors; others may be at work on them. */
const MS_MAX = 300_000;

describe('the ledger under many clients, while things are killed', () => {
  it.each<{ arrangement: Arrangement; seed: number; kills: number }>([
    { arrangement: 'own', seed: 7, kills: 3 },
    { arrangement: 'apart', seed: 8, kills: 3 },
  ])(
    'keeps all it acknowledged, once: PostgreSQL $arrangement',
    async ({ arrangement, seed, kills }) => {
      const figures = await runLedger({ ...SMALL, arrangement, seed, kills });
      expect(figures.settings).toEqual({ fsync: 'on', full_page_writes: 'on', synchronous_commit: 'on' });
      expect(figures.kills).toEqual({ server: 1, database: 1, both: 1 });
      expect(figures.tally.retries).toBeGreaterThan(0);
      expect(figures.acknowledged).toBeGreaterThan(SMALL.operations * 0.6);
      expect(figures.replayed).toBeGreaterThan(0);
      expect(figures).toMatchObject({ lost: [], doubled: [], otherAnswers: [], violations: [], unanswered: 0 });
      expect(figures.tally.faults).toEqual([]);
      expect(figures.verified, figures.verified.output).toMatchObject({ code: 0 });
    },
    MS_MAX,
  );
});
