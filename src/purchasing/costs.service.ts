import { Injectable } from '@nestjs/common';
import { CURRENT_FORMULAS } from '../catalog/current-formulas.js';
import { PPB_ONE, partOf, putInFor } from '../kernel/measure/quantity.js';
import { Database } from '../platform/database.js';
import { valueOf, type Worth } from '../stock/worth.js';

/** What so much of an item costs, and where that is known from. */
export interface Cost extends Worth {
  /** The average value of its lots; else the cheapest pack it is sold in; else what its smallest batch takes. */
  from: 'lots' | 'pack' | 'formula';
}

interface Line {
  item: string;
  basis: 'part' | 'each' | 'fixed';
  amount: number;
}

interface Row {
  code: string;
  stocked: boolean;
  lots: Worth | null;
  pack: Worth | null;
  formula: { batchMin: number; lossPpb: number; residueMg: number; lines: Line[] } | null;
}

/** What things cost: by what lies on the shelf, else by what buying or making them would cost. */
@Injectable()
export class CostsService {
  constructor(private readonly database: Database) {}

  /** Of these items; one whose cost nothing tells is left out. Amounts in base units, money in 1/10 000. */
  async of(codes: readonly string[]): Promise<Map<string, Cost>> {
    const rows = await this.database.read((tx) => tx.query<Row[]>(COSTS, [codes]));
    const byCode = new Map(rows.map((row) => [row.code, row]));
    const known = new Map<string, Cost | null>();
    const costs = codes.map((code) => [code, costOf(code, byCode, known)] as const);
    return new Map(costs.filter((cost): cost is readonly [string, Cost] => cost[1] !== null));
  }
}

function costOf(code: string, rows: ReadonlyMap<string, Row>, known: Map<string, Cost | null>): Cost | null {
  const before = known.get(code);
  if (before !== undefined) return before;
  // until it is known: a formula that went round in a circle would tell nothing
  known.set(code, null);
  const row = rows.get(code);
  const cost: Cost | null = row?.lots
    ? { ...row.lots, from: 'lots' }
    : row?.pack
      ? { ...row.pack, from: 'pack' }
      : row?.formula
        ? batchCost(row.formula, rows, known)
        : null;
  known.set(code, cost);
  return cost;
}

/** What the smallest batch takes, with what is lost on the way; null where the cost of something in it is not known. */
function batchCost(
  { batchMin, lossPpb, residueMg, lines }: NonNullable<Row['formula']>,
  rows: ReadonlyMap<string, Row>,
  known: Map<string, Cost | null>,
): Cost | null {
  const putInMg = lossPpb < PPB_ONE ? putInFor(batchMin, residueMg, lossPpb) : 0;
  let valueE4 = 0;
  for (const { item, basis, amount } of lines) {
    if (rows.get(item)?.stocked === false) continue;
    const takes = basis === 'part' ? partOf(putInMg, amount, 'ceil') : basis === 'each' ? amount * batchMin : amount;
    const value = valueOf(takes, costOf(item, rows, known) ?? undefined);
    if (value === null) return null;
    valueE4 += value;
  }
  return lines.length === 0 ? null : { valueE4, onHand: batchMin, from: 'formula' };
}

const COSTS = `
  with recursive current_formula as materialized ${CURRENT_FORMULAS}, reached as (
    select id from item where code = any($1::text[])
    union
    select fl.item_id from reached r join current_formula f on f.item_id = r.id join formula_line fl on fl.formula_id = f.id
  )
  select i.code, i.stocked, (
      select json_build_object('valueE4', sum(l.value_e4), 'onHand', sum(l.on_hand))
      from lot l where l.item_id = i.id and l.on_hand > 0 having count(*) > 0) as lots, (
      select json_build_object('valueE4', p.price_e4, 'onHand', p.size) from pack p
      where p.item_id = i.id and not p.withdrawn order by p.price_e4::numeric / p.size, p.id limit 1) as pack, (
      select json_build_object('batchMin', f.batch_min, 'lossPpb', f.loss_ppb, 'residueMg', f.residue_mg,
        'lines', coalesce((select json_agg(json_build_object('item', li.code,
            'basis', case when fl.part_ppb is null then fl.basis else 'part' end,
            'amount', coalesce(fl.part_ppb, fl.amount)) order by fl.position)
          from formula_line fl join item li on li.id = fl.item_id where fl.formula_id = f.id), '[]'))
      from current_formula f where f.item_id = i.id) as formula
  from reached r join item i on i.id = r.id`;
