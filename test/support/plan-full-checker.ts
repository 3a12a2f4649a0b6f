import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';

/*
 * What must be true of a plan that holds no more, by arithmetic of its own over the rows, as in plan-checker.ts.
 */

/** The most batches of one plan: 4,000, and 20 for everything that is made. */
const batchesMost = (shop: Snapshot): number =>
  4_000 + 20 * shop.items.filter(({ kind }) => kind !== 'material').length;

/**
 * A plan holds its most, and leaves something out only where one piece more would be more batches than that: one more of it,
 * and of everything it is made of. What cannot be made at all is left out for that and nothing else.
 */
export function fullFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const most = batchesMost(shop);
  const held = plan.batches.length;
  if (held > most) faults.push(`the plan holds ${held} batches, at most ${most}`);
  const formulas = new Map(shop.formulas.map((formula) => [formula.item, formula]));
  const levels = (item: string): number =>
    1 + (formulas.get(item)?.lines ?? []).reduce((sum, { item: of }) => sum + (formulas.has(of) ? levels(of) : 0), 0);
  const leftOut = plan.lines.filter(({ because }) => because === 'plan-full');
  const refills = plan.full?.refills ?? [];
  for (const { item, quantity } of refills) if (quantity <= 0) faults.push(`${quantity} of ${item} are left out`);
  if (leftOut.length + refills.length > 0 !== (plan.full !== undefined))
    faults.push(`the plan says ${JSON.stringify(plan.full)}, and ${leftOut.length} lines have no room`);
  if (plan.full && plan.full.batchesMost !== most) faults.push(`it says that it holds ${plan.full.batchesMost}`);
  const isRoomFor = (item: string): boolean => held + levels(item) <= most;
  // the first that has no room leaves the others none, whatever they are of
  const [first] = [...leftOut, ...refills];
  if (first && [...leftOut, ...refills].every(({ item }) => isRoomFor(item)))
    faults.push(`${first.item} has no room among ${held} batches of ${most}`);
  for (const line of leftOut) {
    if (line.missing === 0) faults.push(`${line.key} has no room and lacks nothing`);
    if (!formulas.has(line.item)) faults.push(`${line.key} has no room, and cannot be made at all`);
  }
  return faults;
}
