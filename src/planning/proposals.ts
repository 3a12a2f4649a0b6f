import { plan } from '../kernel/plan/plan.js';
import type { Proposal } from '../kernel/plan/proposal.js';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { Problem } from '../platform/problem.js';
import type { TakenSnapshot } from './snapshot.service.js';

/** The code of the problem that says that something cannot be planned as it is. */
export const CANNOT_PLAN = 'cannot-plan';

/** The last plans made, by what they were made from: the plan is pure, so the same question has one answer. */
const remembered = new Map<string, Proposal>();
const REMEMBERED_MAX = 2;

/** The kernel's plan of a snapshot; what it cannot plan becomes a 422 problem that says why. */
export function proposalFrom({ snapshot, key }: Pick<TakenSnapshot, 'snapshot' | 'key'>): Proposal {
  const known = remembered.get(key);
  if (known) return known;
  const proposal = planned(snapshot);
  if (remembered.size >= REMEMBERED_MAX) remembered.delete(remembered.keys().next().value!);
  remembered.set(key, proposal);
  return proposal;
}

/** The same, of a snapshot that nobody asks for again. */
export function planned(snapshot: Snapshot): Proposal {
  try {
    return plan(snapshot);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    throw new Problem({ status: 422, code: CANNOT_PLAN, detail: `This cannot be planned: ${error.message}.` });
  }
}
