import { array, assert, asyncProperty, constantFrom, integer, nat, noBias, record } from 'fast-check';
import { beforeAll, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { Comparison, STEP_KINDS } from '../support/ledger-comparison.js';
import { OK } from '../support/ledger-model.js';
import { patience, runs } from '../support/scale.js';

const api = useTestApp();

const RUNS = runs(14, 300);
/** Without the bias towards small numbers, which would let most acts go for the same lot. */
const step = noBias(
  record({
    kind: constantFrom(...STEP_KINDS),
    lot: nat(1000),
    target: nat(1000),
    amount: integer({ min: 1, max: 40 }),
  }),
);

beforeAll(() => api.database.query(`insert into channel (code, name) values ('shop', 'Shop')`));

it('does what a model of plain objects does, act for act', { timeout: patience(120_000) }, async () => {
  let stepCount = 0;
  const { outcomes } = Comparison;
  const seed = Number(process.env['MODEL_SEED'] ?? 20_261_125);
  await assert(
    asyncProperty(array(step, { minLength: 35, maxLength: 60 }), async (steps) => {
      const comparison = await new Comparison(api).open();
      for (const chosen of steps) {
        stepCount++;
        await comparison.act(chosen);
        await comparison.compare();
      }
    }),
    { numRuns: RUNS, seed },
  );
  expect(stepCount).toBeGreaterThan(400);
  // each kind succeeded and was refused often enough that the comparison says something
  for (const kind of ['set-aside', 'give-back', 'scrap', 'split', 'ship', 'take-back', 'weigh', 'hold', 'release'])
    expect(outcomes.get(`${kind}: ${OK}`), kind).toBeGreaterThan(0);
  for (const refusal of [
    'set-aside: not-enough',
    'ship: lot-not-released',
    'ship: not-enough',
    'weigh: lot-not-released',
    'weigh: more-than-booked',
  ])
    expect(outcomes.get(refusal), refusal).toBeGreaterThan(0);
});
