import type { Snapshot } from '../../../src/kernel/plan/snapshot.js';

/** The most lines that can be covered whole, every choice of lines being tried. */
export function mostByTrying(shop: Snapshot): number {
  let most = 0;
  for (let choice = 0; choice < 2 ** shop.lines.length; choice++) {
    const chosen = shop.lines.filter((_, n) => (choice >> n) & 1);
    if (chosen.length > most && isThere(shop, chosen)) most = chosen.length;
  }
  return most;
}

/** Takes what the lines need off the shelf, makes what is not there, and so on down to what nobody makes. */
function isThere(shop: Snapshot, chosen: Snapshot['lines']): boolean {
  const needs = new Map<string, number>();
  const need = (code: string, quantity: number): void => void needs.set(code, (needs.get(code) ?? 0) + quantity);
  for (const { item, quantity } of chosen) need(item, quantity);
  for (const kind of ['product', 'bulk', 'material'] as const)
    for (const { code, stocked } of shop.items.filter((item) => item.kind === kind)) {
      const there = shop.lots.reduce((sum, lot) => (lot.item === code ? sum + lot.free : sum), 0);
      const open = (needs.get(code) ?? 0) - there;
      if (open <= 0 || !stocked) continue;
      const formula = shop.formulas.find(({ item }) => item === code);
      if (!formula) return false;
      for (const { item, basis, amount } of formula.lines)
        need(item, basis === 'each' ? open * amount : (open * amount) / (1_000_000_000 - formula.lossPpb));
    }
  return true;
}
