import type { CreatedBatch } from '../batches/batches.service.js';
import { sharesOf } from '../kernel/plan/line-shares.js';
import type { Peg, ProposedBatch, Proposal } from '../kernel/plan/proposal.js';
import type { NewPeg } from './pegs.js';
import type { TakenSnapshot } from './snapshot.service.js';

type For = Pick<NewPeg, 'orderLineId' | 'forBatchId'>;

/**
 * For whom a batch of the plan is made. What goes to a batch that is not kept yet, because its week is another, is for the
 * orders that one is made for, each by its share: they do not become stock by being planned a week at a time.
 */
export function pegsIn(
  { batches }: Pick<Proposal, 'batches'>,
  created: ReadonlyMap<string, Pick<CreatedBatch, 'id'>>,
  ids: Pick<TakenSnapshot['ids'], 'lines'>,
): (batch: Pick<ProposedBatch, 'madeFor'>) => NewPeg[] {
  const later = new Map(batches.map((batch) => [batch.key, batch.madeFor]));

  const pegsFor = ({ for: whom, key, quantity }: Peg): NewPeg[] => {
    const to = (target: Partial<For>): NewPeg[] => [{ orderLineId: null, forBatchId: null, ...target, quantity }];
    if (whom === 'line') return to({ orderLineId: ids.lines.get(key)! });
    if (whom === 'stock') return to({});
    const batch = created.get(key);
    if (batch) return to({ forBatchId: batch.id });
    const parts = later.get(key) ?? [];
    if (parts.length === 0) return to({});
    const shares = sharesOf(
      parts.map((part) => part.quantity),
      quantity,
    );
    return parts.flatMap((part, at) => (shares[at]! > 0 ? pegsFor({ ...part, quantity: shares[at]! }) : []));
  };

  return ({ madeFor }) => merged(madeFor.flatMap(pegsFor));
}

/** One for each whom, in the order they are first named. */
function merged(pegs: readonly NewPeg[]): NewPeg[] {
  const byWhom = new Map<string, NewPeg>();
  for (const peg of pegs) {
    const whom = `${peg.orderLineId ?? ''}/${peg.forBatchId ?? ''}`;
    byWhom.set(whom, { ...peg, quantity: (byWhom.get(whom)?.quantity ?? 0) + peg.quantity });
  }
  return [...byWhom.values()];
}
