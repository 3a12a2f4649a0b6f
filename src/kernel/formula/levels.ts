import { byText } from '../measure/text-order.js';

/** An item and what its formula takes, by code; a code may be named twice. `parts` is empty for what is bought. */
export interface ItemParts {
  code: string;
  parts: readonly string[];
}

/** Formulas that cannot be planned. `codes` are the items at fault; of a cycle in its own order. */
export class LevelsError extends RangeError {
  constructor(
    readonly code: 'cycle' | 'too-deep' | 'unknown-part' | 'duplicate-item',
    readonly codes: readonly string[],
    message: string,
  ) {
    super(message);
    this.name = 'LevelsError';
  }
}

/** How many formulas may stand one inside the other. */
export const MAX_LEVELS = 12;

/**
 * The lowest level each item is used at: 0 for what nothing else needs. What is needed of an item is known once everything
 * of the levels above has been planned. Every part must be an item of the list itself.
 * Throws LevelsError: a cycle is named as "BLK-A -> BLK-B -> BLK-A".
 */
export function lowLevelCodes(items: readonly ItemParts[]): Map<string, number> {
  const byCode = new Map(items.map((item) => [item.code, item]));
  if (byCode.size < items.length) {
    const twice = items.filter((item) => byCode.get(item.code) !== item).map((item) => item.code);
    throw new LevelsError('duplicate-item', twice, `listed twice: ${twice.join(', ')}`);
  }
  const levels = longestWaysDown(byCode);
  const deep = [...levels].filter(([, level]) => level > MAX_LEVELS).map(([code]) => code);
  if (deep.length > 0)
    throw new LevelsError('too-deep', deep.sort(byText), `more than ${MAX_LEVELS} levels down: ${deep.join(', ')}`);
  return levels;
}

/** By taking off item after item that no other left one needs. */
function longestWaysDown(byCode: ReadonlyMap<string, ItemParts>): Map<string, number> {
  const users = new Map([...byCode.keys()].map((code) => [code, 0]));
  for (const item of byCode.values())
    for (const part of item.parts) {
      const count = users.get(part);
      if (count === undefined)
        throw new LevelsError('unknown-part', [item.code, part], `${item.code} needs an unknown ${part}`);
      users.set(part, count + 1);
    }
  const levels = new Map([...byCode.keys()].map((code) => [code, 0]));
  const ready = [...byCode.keys()].filter((code) => users.get(code) === 0);
  let taken = 0;
  for (let code = ready.pop(); code !== undefined; code = ready.pop(), taken++)
    for (const part of byCode.get(code)!.parts) {
      levels.set(part, Math.max(levels.get(part)!, levels.get(code)! + 1));
      users.set(part, users.get(part)! - 1);
      if (users.get(part) === 0) ready.push(part);
    }
  if (taken < byCode.size) {
    const cycle = cycleAmong([...byCode.values()].filter((item) => users.get(item.code)! > 0));
    throw new LevelsError('cycle', cycle, `made from itself: ${[...cycle, cycle[0]].join(' -> ')}`);
  }
  return levels;
}

/** A cycle among items each of which is still needed by another of them, starting at its first code. */
function cycleAmong(left: readonly ItemParts[]): string[] {
  const sorted = [...left].sort((a, b) => byText(a.code, b.code));
  const userOf = (code: string) => sorted.find((item) => item.parts.includes(code))!.code;
  // walking from part to user never ends outside, so it must come back to where it was
  const path: string[] = [];
  for (let code = sorted[0]!.code; ; code = userOf(code)) {
    const seenAt = path.indexOf(code);
    path.push(code);
    if (seenAt < 0) continue;
    const cycle = path.slice(seenAt + 1).reverse();
    const start = cycle.indexOf(cycle.toSorted(byText)[0]!);
    return [...cycle.slice(start), ...cycle.slice(0, start)];
  }
}
