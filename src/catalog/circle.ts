import type { EntityManager } from 'typeorm';
import { LevelsError, lowLevelCodes } from '../kernel/formula/levels.js';
import { Problem } from '../platform/problem.js';
import { CURRENT_FORMULAS } from './current-formulas.js';
import type { Item } from './item.entity.js';
import type { ReadLine } from './lines.js';

/** What the current formulas need, one row a made item and part. */
const CURRENT_PARTS = `
  select distinct i.code, p.code as part
  from ${CURRENT_FORMULAS} f
    join item i on i.id = f.item_id join formula_line l on l.formula_id = f.id join item p on p.id = l.item_id
  where f.item_id <> $1`;

/**
 * Refuses lines with which an item would be made from itself through other items' current formulas, or formulas would
 * stand more than twelve deep. The 422 problem names the circle and points at the lines that close it.
 */
export async function refuseCircle(tx: EntityManager, item: Item, lines: readonly ReadLine[]): Promise<void> {
  const rows = await tx.query<{ code: string; part: string }[]>(CURRENT_PARTS, [item.id]);
  const parts = new Map<string, Set<string>>([[item.code, new Set(lines.map((line) => line.item.code))]]);
  for (const { code, part } of rows) (parts.get(code) ?? parts.set(code, new Set()).get(code)!).add(part);
  const codes = new Set([...parts].flatMap(([code, needs]) => [code, ...needs]));
  try {
    lowLevelCodes([...codes].map((code) => ({ code, parts: [...(parts.get(code) ?? [])] })));
  } catch (error) {
    if (!(error instanceof LevelsError)) throw error;
    const closing = lines.filter((line) => error.codes.includes(line.item.code));
    const detail = `With this formula: ${error.message}.`;
    const errors = closing.map(({ position }) => ({
      pointer: `/lines/${position - 1}/item`,
      detail,
      code: error.code,
    }));
    throw new Problem({ status: 422, code: error.code, detail, errors, extra: { items: error.codes } });
  }
}
