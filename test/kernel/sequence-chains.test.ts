import { expect, it } from 'vitest';
import type { LineState } from '../../src/kernel/plan/job.js';
import type { ScheduleJob } from '../../src/kernel/plan/schedule-job.js';
import { chainsOf, type Waiting } from '../../src/kernel/plan/sequence-chains.js';

const START = 100;
const NEVER = Number.NEGATIVE_INFINITY;
const job = (rest: Partial<ScheduleJob>): ScheduleJob =>
  ({
    tier: 0,
    restDays: 0,
    vesselKind: null,
    putInMg: 5,
    earliest: START,
    freshFrom: NEVER,
    sources: [],
    ...rest,
  }) as unknown as ScheduleJob;
const from = (...jobs: number[]) => jobs.map((one) => ({ job: one, held: false, after: 0 }));
const line = {} as LineState;

it('follows what lines wait for through all that is made of one and another', () => {
  const jobs = [
    job({ vesselKind: 'pot', restDays: 4 }),
    // packed of it, for which a box comes on the sixth day, and rests two days
    job({ sources: from(0), earliest: START + 6, restDays: 2 }),
    // poured of what is packed, and of what is for stock and takes no turn
    job({ vesselKind: 'pot', sources: from(1, 3), restDays: 1, freshFrom: START + 3 }),
    job({ vesselKind: 'pot', tier: 1, restDays: 9 }),
  ];
  const vessels = [
    { code: 'SMALL', kind: 'pot', capacityMg: 4, busy: [] },
    { code: 'FITS', kind: 'pot', capacityMg: 5, busy: [] },
    { code: 'OTHER', kind: 'mould', capacityMg: 9, busy: [] },
    { code: 'LARGE', kind: 'pot', capacityMg: 9, busy: [] },
  ];
  const lines = [
    { line, ready: START + 1, jobs: [1] },
    { line, ready: START + 20, jobs: [0, 2] },
    { line, ready: START + 2, jobs: [] },
  ];
  const waiting = { jobs, vessels, start: START, lines } as unknown as Waiting;
  expect(chainsOf(waiting, [2, 3, 1, 0])).toEqual({
    pours: [
      // nine days of rest count, though nobody knows when what is for stock begins; packed two days after day 6, or 4 + 2 after it is poured
      { job: 2, earliest: START + 9, days: 2, vessels: [1, 3], after: [{ pour: 1, days: 6 }] },
      { job: 0, earliest: START, days: 5, vessels: [1, 3], after: [] },
    ],
    lines: [
      { line, ready: START + 8, after: [{ pour: 1, days: 6 }] },
      {
        line,
        ready: START + 20,
        after: [
          { pour: 1, days: 4 },
          { pour: 0, days: 1 },
        ],
      },
      { line, ready: START + 2, after: [] },
    ],
  });
});
