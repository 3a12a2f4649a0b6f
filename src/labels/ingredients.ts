import type { EntityManager } from 'typeorm';

/** A material in what is sold: parts per billion of its weight, in the order of a label. */
export interface Ingredient {
  itemId: number;
  code: string;
  name: string;
  partPpb: number;
  isFragrance: boolean;
}

interface Line {
  formulaId: number;
  itemId: number;
  kind: string;
  amount: number | null;
  partPpb: number | null;
  batchMin: number;
}

interface Material {
  itemId: number;
  code: string;
  name: string;
  isFragrance: boolean;
}

const LEVELS_MAX = 12;

/**
 * What is in an item by weight, most first, through every level of its solved formulas. `made` names the formula of each
 * item that was really used; where it names none, the current one counts. Containers and what else is counted are not in
 * it. Parts are rounded down to whole ppb, so together they may fall a few short of the whole.
 */
export async function ingredientsOf(
  tx: EntityManager,
  itemId: number,
  made: ReadonlyMap<number, number>,
): Promise<Ingredient[]> {
  const parts = new Map<number, bigint>();
  let open = new Map([[itemId, 1_000_000_000n]]);
  for (let level = 0; open.size > 0 && level < LEVELS_MAX; level++) {
    const lines = await linesOf(tx, [...open.keys()], made);
    const next = new Map<number, bigint>();
    for (const [parent, share] of open) {
      const own = lines.filter((line) => line.parent === parent);
      const whole = own.reduce((sum, line) => sum + weightOf(line), 0n);
      for (const line of own) {
        const into = line.kind === 'material' ? parts : next;
        into.set(line.itemId, (into.get(line.itemId) ?? 0n) + (share * weightOf(line)) / whole);
      }
    }
    open = next;
  }
  const materials = await tx.query<Material[]>(
    `select i.id as "itemId", i.code, coalesce(nullif(l.printed_name, ''), i.name) as name,
       i.family = 'fragrance' as "isFragrance"
     from item i left join item_label l on l.item_id = i.id where i.id = any($1::bigint[])`,
    [[...parts.keys()]],
  );
  return materials
    .map((material) => ({ ...material, partPpb: Number(parts.get(material.itemId)!) }))
    .sort((a, b) => b.partPpb - a.partPpb || (a.name < b.name ? -1 : 1));
}

/** In parts of the weight put in; what is given for the whole batch, against the smallest batch. */
function weightOf({ partPpb, amount, batchMin }: Line): bigint {
  if (partPpb !== null) return BigInt(partPpb) * BigInt(batchMin);
  return BigInt(amount ?? 0) * 1_000_000_000n;
}

/** The weighed lines of the formulas of these items. */
function linesOf(
  tx: EntityManager,
  items: readonly number[],
  made: ReadonlyMap<number, number>,
): Promise<(Line & { parent: number })[]> {
  return tx.query(
    `select f.id as "formulaId", f.item_id as parent, fl.item_id as "itemId", i.kind, fl.amount, fl.part_ppb as "partPpb",
       f.batch_min as "batchMin"
     from (select distinct on (f.item_id) f.* from formula f
         where f.item_id = any($1::bigint[]) and (f.id = any($2::bigint[])
           or (not f.withdrawn and not exists (select from formula u where u.item_id = f.item_id and u.id = any($2::bigint[]))))
         order by f.item_id, f.version desc) f
       join formula_line fl on fl.formula_id = f.id join item i on i.id = fl.item_id
     where i.measure = 'weighed' and (fl.part_ppb > 0 or fl.amount > 0)`,
    [items, [...made.values()]],
  );
}

/** By item, the formula of the batch a lot came out of, and of the batches whose lots went into that, level by level. */
export async function formulasUsed(tx: EntityManager, lotId: number): Promise<Map<number, number>> {
  const rows = await tx.query<{ itemId: number; formulaId: number }[]>(
    `with recursive lot_and_parents (id, parent_lot_id, batch_id) as (
       select id, parent_lot_id, batch_id from lot where id = $1
       union
       select p.id, p.parent_lot_id, p.batch_id from lot_and_parents c join lot p on p.id = c.parent_lot_id
     ), made (batch_id, depth) as (
       select batch_id, 1 from lot_and_parents where batch_id is not null
       union
       select l.batch_id, made.depth + 1
       from made join standing_movement m on m.batch_id = made.batch_id and m.cause = 'consumption' join lot l on l.id = m.lot_id
       where l.batch_id is not null and made.depth < ${LEVELS_MAX}
     )
     select b.item_id as "itemId", max(b.formula_id) as "formulaId" from made join batch b on b.id = made.batch_id
     group by b.item_id`,
    [lotId],
  );
  return new Map(rows.map(({ itemId, formulaId }) => [itemId, formulaId]));
}

/** What is named on a label beyond the threshold, and of which fragrances nobody has said what is in them. */
export async function allergensIn(
  tx: EntityManager,
  ingredients: readonly Ingredient[],
  abovePpb: number,
): Promise<{ named: { name: string; partPpb: number }[]; unknown: string[] }> {
  const rows = await tx.query<{ itemId: number; name: string; partPpb: number }[]>(
    `select item_id as "itemId", name, part_ppb as "partPpb" from allergen where item_id = any($1::bigint[])`,
    [ingredients.map(({ itemId }) => itemId)],
  );
  // in parts per 10^18, so that what lies exactly on the threshold stays there
  const sums = new Map<string, bigint>();
  for (const { itemId, name, partPpb } of rows) {
    const ingredient = ingredients.find((one) => one.itemId === itemId)!;
    sums.set(name, (sums.get(name) ?? 0n) + BigInt(ingredient.partPpb) * BigInt(partPpb));
  }
  const named = [...sums]
    .filter(([, part]) => part > BigInt(abovePpb) * 1_000_000_000n)
    .sort(([a, x], [b, y]) => (x < y ? 1 : x > y ? -1 : a < b ? -1 : 1))
    .map(([name, part]) => ({ name, partPpb: Number(part / 1_000_000_000n) }));
  const known = new Set(rows.map(({ itemId }) => itemId));
  const unknown = ingredients
    .filter(({ itemId, isFragrance }) => isFragrance && !known.has(itemId))
    .map(({ name }) => name);
  return { named, unknown };
}
