import type { EntityManager } from 'typeorm';
import type { Item } from '../catalog/item.entity.js';

const MAKER = 'Quarry Lane Workshop, 3 Quarry Lane, Nowhere';
const OPENED_MONTHS = 12;

/** Of invented fragrances, invented figures: [fragrance, allergen, percent of it]. */
const ALLERGENS: [string, string, number][] = [
  ['FO-LINEN', 'Linalool', 2.4],
  ['FO-LINEN', 'Limonene', 0.9],
  ['FO-LAV', 'Linalool', 31],
  ['FO-LAV', 'Geraniol', 0.4],
  ['FO-LAV', 'Coumarin', 0.002],
  ['FO-ROSE', 'Citronellol', 12],
  ['FO-ROSE', 'Geraniol', 6.5],
];

/** What labels state: products end in their contents, millilitres of what is sprayed or set out, grams of the rest. */
export async function loadLabels(tx: EntityManager, items: Map<string, Item>, dated: string): Promise<void> {
  const labels = [...items.values()].flatMap(({ id, code, kind, family }) => {
    const contents = kind === 'product' ? Number(/-(\d+)$/.exec(code)?.[1]) : NaN;
    if (!(contents > 0)) return [];
    const isVolume = family === 'spray' || family === 'body' || family === 'diffuser';
    const isOnSkin = family === 'body' || family === 'soap';
    return [
      {
        id,
        mg: isVolume ? null : contents * 1000,
        ul: isVolume ? contents * 1000 : null,
        months: isOnSkin ? OPENED_MONTHS : null,
        contact: family === 'soap' ? 'rinse-off' : family === 'body' ? 'leave-on' : 'none',
      },
    ];
  });
  await tx.query(
    `insert into item_label (item_id, net_mg, net_ul, opened_months, contact, maker)
     select l.id, l.mg, l.ul, l.months, l.contact, $2
     from jsonb_to_recordset($1::jsonb) as l (id bigint, mg bigint, ul bigint, months int, contact text)`,
    [JSON.stringify(labels), MAKER],
  );
  const allergens = ALLERGENS.map(([code, name, percent]) => ({
    id: items.get(code)!.id,
    name,
    ppb: Math.round(percent * 10_000_000),
  }));
  await tx.query(
    `insert into allergen (item_id, name, part_ppb, source, dated)
     select a.id, a.name, a.ppb, 'statement of the invented supplier', $2
     from jsonb_to_recordset($1::jsonb) as a (id bigint, name text, ppb bigint)`,
    [JSON.stringify(allergens), dated],
  );
}
