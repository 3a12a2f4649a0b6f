import { type Day, dayOf } from '../measure/day.js';
import type { Model } from './model.js';
import type { AtRisk } from './proposal.js';
import { mulDivFloor } from '../measure/ratio.js';
import { byText } from '../measure/text-order.js';

/** How far ahead an expiry is looked for. */
const RISK_DAYS = 90;

/** Past use is stated over so many days. */
const USE_DAYS = 28;

/** Something the plan takes of an item on a day, from whatever source. */
export interface PlannedUse {
  item: string;
  day: Day;
  quantity: number;
  /** The lot it comes from; null for a delivery. */
  lot: string | null;
}

/**
 * What will be left when a lot expires: free stock less what the plan takes, less what past use leads one to expect on
 * top of the plan until that day, first expired first. Without history it is unknown. Only lots with something left, or
 * unknown, are listed, by expiry.
 */
export function atRisk(model: Model, uses: readonly PlannedUse[]): AtRisk[] {
  const { lots, use, formulas } = model.snapshot;
  const perItem = new Map(use.map((row) => [row.item, row.per28Days]));
  const fromLot = new Map<string, number>();
  const byItem = new Map<string, PlannedUse[]>();
  for (const planned of uses) {
    if (planned.lot !== null) fromLot.set(planned.lot, (fromLot.get(planned.lot) ?? 0) + planned.quantity);
    const list = byItem.get(planned.item);
    if (list) list.push(planned);
    else byItem.set(planned.item, [planned]);
  }
  const usedUp = new Map<string, number>();
  const rows: AtRisk[] = [];
  const expiring = lots
    .filter((lot) => lot.expiresOn !== null && dayOf(lot.expiresOn) <= model.today + RISK_DAYS)
    .sort((a, b) => byText(a.expiresOn!, b.expiresOn!) || byText(a.code, b.code));
  for (const lot of expiring) {
    const freeAfterPlan = lot.free - (fromLot.get(lot.code) ?? 0);
    if (freeAfterPlan <= 0) continue;
    const expires = dayOf(lot.expiresOn!);
    const per28 = perItem.get(lot.item);
    let left: number | null = null;
    if (expires < model.today) left = freeAfterPlan;
    else if (per28 !== undefined) {
      const planned = (byItem.get(lot.item) ?? []).reduce((sum, u) => sum + (u.day <= expires ? u.quantity : 0), 0);
      const beyondPlan = Math.max(0, mulDivFloor(per28, expires - model.today + 1, USE_DAYS) - planned);
      const already = usedUp.get(lot.item) ?? 0;
      const used = Math.min(freeAfterPlan, Math.max(0, beyondPlan - already));
      usedUp.set(lot.item, already + used);
      left = freeAfterPlan - used;
    }
    if (left === 0) continue;
    rows.push({
      lot: lot.code,
      item: lot.item,
      expiresOn: lot.expiresOn!,
      left,
      freeAfterPlan,
      valueE4: left === null ? null : mulDivFloor(lot.valueE4, left, lot.onHand),
      usableIn: formulas
        .filter((formula) => formula.lines.some((line) => line.item === lot.item))
        .map((formula) => formula.item)
        .sort(byText),
    });
  }
  return rows;
}
