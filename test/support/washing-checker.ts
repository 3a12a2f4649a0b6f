import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotWashingRow, WashedThing } from '../../src/kernel/plan/snapshot.js';

/*
 * What a plan says of washing, looked up and counted anew: every vessel is walked from its first day to its last. Nothing
 * here comes from the planner but its answer. Days are ISO 8601 text, which sorts as they do.
 */

interface Stay {
  who: string;
  item: string;
  from: string;
  to: string;
  isPlanned: boolean;
}

/** Sentences that say what is wrong with the washing of a plan. */
export function washingFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const rewashed = new Map((plan.rewashed ?? []).map((row) => [row.batch, row]));
  for (const batch of plan.batches) {
    const { minutesBatch, secondsUnit } = shop.formulas.find(({ item }) => item === batch.item)!;
    const own = minutesBatch + Math.ceil((batch.output * secondsUnit) / 60);
    if (batch.minutes !== own + (batch.wash?.minutes ?? 0))
      faults.push(
        `${batch.key} takes ${batch.minutes} minutes, its making ${own} and its washing ${batch.wash?.minutes}`,
      );
    if (batch.wash && (batch.vessel === null || batch.wash.minutes <= 0)) faults.push(`${batch.key} washes nothing`);
  }
  for (const { code, kind } of shop.vessels) {
    const stays = staysIn(shop, plan, code);
    stays.forEach((stay, at) => {
      const before = lastEmptied(stays.slice(0, at));
      const after = before?.item ?? shop.washing?.held.find(({ vessel }) => vessel === code)?.item;
      const needed = after === undefined ? 0 : minutesBetween(shop, { code, kind }, after, stay.item);
      if (stay.isPlanned) {
        const said = plan.batches.find(({ key }) => key === stay.who)!.wash;
        if ((said?.minutes ?? 0) !== needed || (said && said.after !== after))
          faults.push(`${stay.who} in ${code} after ${after} needs ${needed} minutes, and has ${JSON.stringify(said)}`);
        return;
      }
      const promised = shop.washing?.making.find((row) => row.code === stay.who)?.minutes ?? 0;
      const more = before?.isPlanned ? Math.max(0, needed - promised) : 0;
      const said = rewashed.get(stay.who);
      rewashed.delete(stay.who);
      if ((said?.more ?? 0) !== more || (said && (said.minutes !== promised + more || said.after !== after)))
        faults.push(`${stay.who} in ${code} after ${after} needs ${more} more, and has ${JSON.stringify(said)}`);
      if (said && said.day !== stay.from) faults.push(`${stay.who} is washed for on ${said.day}`);
    });
  }
  for (const batch of rewashed.keys()) faults.push(`${batch} is washed for again, and stands nowhere`);
  return faults;
}

function staysIn(shop: Snapshot, plan: Proposal, vessel: string): Stay[] {
  const later = (one: string, other: string): string => (one > other ? one : other);
  const made = shop.making
    .filter((row) => row.vessel === vessel)
    .map(({ code, item, day, emptiedOn }) => ({
      who: code,
      item,
      from: day,
      to: later(emptiedOn, shop.today),
      isPlanned: false,
    }));
  const planned = plan.batches
    .filter((row) => row.vessel === vessel && row.day !== null)
    .map(({ key, item, day, emptiedOn }) => ({ who: key, item, from: day!, to: emptiedOn!, isPlanned: true }));
  return [...made, ...planned].toSorted((a, b) =>
    a.from === b.from ? (a.to < b.to ? -1 : 1) : a.from < b.from ? -1 : 1,
  );
}

const lastEmptied = (stays: readonly Stay[]): Stay | undefined =>
  stays.reduce<Stay | undefined>((last, stay) => (last && last.to > stay.to ? last : stay), undefined);

/** The row that says most exactly what is between the two, of all that are for them. */
export function minutesBetween(
  { washing }: Snapshot,
  vessel: { code: string; kind: string },
  after: string,
  before: string,
): number {
  if (!washing) return 0;
  const [off, on] = [after, before].map((code) => washing.items.find((row) => row.code === code)!);
  const isFor = ({ family, scent }: WashedThing, item: WashedThing): boolean =>
    (family === null || family === item.family) && (scent === null || scent === item.scent);
  const fits = (row: SnapshotWashingRow): boolean =>
    (row.vessel === null || row.vessel === vessel.code) &&
    (row.kind === null || row.kind === vessel.kind) &&
    isFor(row.after, off!) &&
    isFor(row.before, on!);
  const isSame = after === before || (off!.scent !== null && off!.scent === on!.scent && off!.family === on!.family);
  const saysSo = ({ after: a, before: b }: SnapshotWashingRow): boolean =>
    a.family === b.family && a.scent === b.scent && (a.family !== null || a.scent !== null);
  const weightOf = ({ family, scent }: WashedThing): number => (scent !== null ? 2 : family !== null ? 1 : 0);
  const rank = (row: SnapshotWashingRow): number =>
    (row.vessel !== null ? 2 : row.kind !== null ? 1 : 0) * 100 +
    (weightOf(row.after) + weightOf(row.before)) * 10 +
    weightOf(row.after);
  const rows = washing.rows.filter((row) => fits(row) && (!isSame || saysSo(row)));
  return rows.toSorted((a, b) => rank(b) - rank(a))[0]?.minutes ?? 0;
}

/** The most minutes that washing can take before an item, in a vessel it may be made in. */
export function mostBefore(shop: Snapshot, item: string, kind: string | null): number {
  const vessels = shop.vessels.filter((vessel) => vessel.kind === kind);
  const all = shop.washing?.items ?? [];
  return Math.max(0, ...vessels.flatMap((one) => all.map(({ code }) => minutesBetween(shop, one, code, item))));
}
