import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { TERMS_TO_SAY } from '../../src/kernel/plan/terms.js';
import { withRandomPeople } from './people.js';
import { withRandomSends } from './sends.js';
import { withRandomWashing } from './washing.js';
import { seeded } from './workshop.js';

/** The workshop with all that one can say, or has seen, each in two of three at random. */
export function withEverythingSaid(shop: Snapshot, seed: number): Snapshot {
  const pick = seeded(seed + 5_000_011);
  const isSaid = (): boolean => pick(3) > 0;
  let said = shop;
  if (isSaid()) said = withRandomWashing(said, seed);
  if (isSaid()) said = withRandomPeople(said, seed);
  if (isSaid()) said = withRandomSends(said, seed);
  if (isSaid()) said = { ...said, lines: said.lines.map((line) => withPrecedence(line, pick)) };
  if (isSaid()) {
    const terms = TERMS_TO_SAY.filter(() => pick(3) === 0).toSorted(() => pick(3) - 1);
    said = { ...said, workshop: { ...said.workshop, terms } };
  }
  if (isSaid()) {
    // as it was shown before one order more
    const { batches } = plan({ ...said, lines: said.lines.slice(1) });
    const pours = batches.flatMap(({ key, item, day, vessel, output }) =>
      day === null ? [] : [{ key, item, day, vessel, output }],
    );
    said = { ...said, shown: { pours } };
  }
  return said;
}

const withPrecedence = (line: SnapshotLine, pick: (below: number) => number): SnapshotLine => ({
  ...line,
  weight: 1 + pick(4),
  urgent: pick(6) === 0,
});
