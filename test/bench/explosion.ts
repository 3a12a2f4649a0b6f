import type pg from 'pg';
import { addDays, dayOf } from '../../src/kernel/measure/day.js';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net } from '../../src/kernel/plan/netting.js';
import type { Snapshot, SnapshotFormulaLine } from '../../src/kernel/plan/snapshot.js';
import { type AmountsByDay, needsByDay } from '../support/needs.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const LINES = 100_000;
const PRODUCTS = 500;
const BULKS = 100;
const PREMIXES = 60;
const MATERIALS = 200;
const WEEKS = 26;
const SQL_RUNS = 3;
const KERNEL_RUNS = 7;
const KERNEL_WARM_UP = 2;

/** The same numbers every time (Lehmer generator, MINSTD), so that two runs measure the same work. */
function generator(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state = (state * 48_271) % 2_147_483_647;
    return state % below;
  };
}

const code = (prefix: string, n: number): string => `${prefix}-${String(n).padStart(3, '0')}`;

/**
 * Four levels: products from a bulk and packaging, bulks from premixes and materials, premixes from materials. Everything
 * is due and takes whole weeks, so that the week's batches the plan makes of it are the same sums by item and day that SQL
 * makes, and fills and percents are round, so that no weight is rounded.
 */
function workshop(): Snapshot {
  const pick = generator(20_251);
  const shop = emptyWorkshop();
  shop.workshop = {
    ...shop.workshop,
    benchMinutes: Array.from({ length: 7 }, () => 480),
    slackDays: 0,
    scaleStepMg: 1,
  };
  const some = (prefix: string, count: number, of: number) => {
    const first = pick(of);
    return Array.from({ length: count }, (_, i) => code(prefix, (first + i * 7) % of));
  };
  const percents = (codes: string[]): SnapshotFormulaLine[] => {
    let left = 100;
    return codes.map((of, i) => {
      const percent = i === codes.length - 1 ? left : 1 + pick(10);
      left -= percent;
      return line(i + 1, of, 'part', percent * 10_000_000);
    });
  };
  for (let i = 0; i < PRODUCTS; i++) {
    // fills are whole tens of grams, so that percents of percents are whole milligrams
    const fill = line(1, code('BLK', pick(BULKS)), 'each', 10_000 * (1 + pick(30)), 'fill');
    const packaging = some('PAC', 5, MATERIALS).map((of, at) => line(at + 2, of, 'each', 1, 'pack'));
    shop.items.push(item(code('PRD', i), { kind: 'product', measure: 'counted' }));
    shop.formulas.push(formula(code('PRD', i), [fill, ...packaging], { restDays: 7 }));
  }
  const mixed = (of: string, parts: string[], restDays: number) => {
    shop.items.push(item(of, { kind: 'bulk' }));
    shop.formulas.push(formula(of, percents(parts), { restDays }));
  };
  for (let i = 0; i < BULKS; i++)
    mixed(code('BLK', i), [...some('MIX', 3, PREMIXES), ...some('MAT', 5, MATERIALS)], 7 * (1 + pick(3)));
  for (let i = 0; i < PREMIXES; i++) mixed(code('MIX', i), some('MAT', 5, MATERIALS), 7 * pick(2));
  for (let i = 0; i < MATERIALS; i++)
    shop.items.push(item(code('MAT', i)), item(code('PAC', i), { measure: 'counted' }));
  shop.lines = Array.from({ length: LINES }, (_, i) => ({
    key: `O${i}`,
    item: code('PRD', pick(PRODUCTS)),
    quantity: 1 + pick(6),
    shipBy: addDays(shop.today, 7 * (8 + pick(WEEKS))),
    notBefore: null,
  }));
  return shop;
}

/** Order lines summed by item and day first, as anyone would, then exploded along every path and summed again. */
const RECURSIVE_SQL = `
  with recursive need (item, day, quantity) as (
    select item, day, sum(quantity)::bigint from bench_demand group by item, day
    union all
    select p.part, n.day - i.lead_days, n.quantity * p.amount / p.per
    from need n join bench_item i on i.code = n.item join bench_part p on p.item = n.item
  ), summed as (select item, day, sum(quantity)::bigint as quantity from need group by item, day)
  select count(*)::int as cells, sum(quantity)::text as total,
         sum(quantity::numeric * (ascii(right(item, 1)) * 31 + day % 97))::text as placed
  from summed where quantity > 0`;

interface Totals {
  cells: number;
  total: string;
  /** each quantity weighed by its item and day, so that one in the wrong place shows */
  placed: string;
}

/**
 * What 100,000 order lines need through four levels, once by recursive SQL over temporary tables and once as the plan nets
 * it, from its snapshot to batches with their sheets, and returns printable rows with the median times and their ratio.
 * Throws when the two disagree.
 */
export async function explosionRows(pool: pg.Pool): Promise<string[]> {
  const snapshot = workshop();
  const client = await pool.connect();
  try {
    await load(client, snapshot);
    let fromSql: Totals | undefined;
    const sqlMs = await median(SQL_RUNS, async () => {
      fromSql = (await client.query<Totals>(RECURSIVE_SQL)).rows[0];
    });
    let needs: AmountsByDay = new Map();
    const run = () => {
      // all of it, as SQL does: a plan would leave out the last of so many batches
      const model = { ...buildModel(snapshot), batchesMost: Number.POSITIVE_INFINITY };
      needs = needsByDay(model, net(model, new Set()));
    };
    const coldMs = await median(1, run);
    await median(KERNEL_WARM_UP, run);
    const kernelMs = await median(KERNEL_RUNS, run);
    const fromKernel = totalsOf(needs);
    if (JSON.stringify(fromSql) !== JSON.stringify(fromKernel))
      throw new Error(`the explosions disagree: ${JSON.stringify({ fromSql, fromKernel })}`);
    return [
      `needs of ${LINES} lines, ${PRODUCTS} products, 4 levels, ${fromKernel.cells} item-days (totals agree)`,
      `  recursive SQL   ${sqlMs.toFixed(1).padStart(9)} ms  (median of ${SQL_RUNS}; amounts only)`,
      `  netting         ${kernelMs.toFixed(1).padStart(9)} ms  (median of ${KERNEL_RUNS} after ${KERNEL_WARM_UP}; the very first ${coldMs.toFixed(1)} ms; with batches, sheets and whom each is for)`,
      `  ratio           ${(sqlMs / kernelMs).toFixed(1).padStart(9)} x`,
    ];
  } finally {
    // not back to the pool: its temporary tables go with it
    client.release(true);
  }
}

async function load(client: pg.PoolClient, { items, formulas, lines }: Snapshot): Promise<void> {
  await client.query(`
    drop table if exists bench_demand, bench_part, bench_item;
    create temp table bench_item (code text primary key, lead_days int not null);
    create temp table bench_part (item text not null, part text not null, amount bigint not null, per bigint not null);
    create temp table bench_demand (item text not null, day int not null, quantity bigint not null)`);
  const rests = new Map(formulas.map((row) => [row.item, row.restDays]));
  await client.query('insert into bench_item select * from unnest($1::text[], $2::int[])', [
    items.map((row) => row.code),
    items.map((row) => rests.get(row.code) ?? 0),
  ]);
  const parts = formulas.flatMap((of) => of.lines.map((part) => ({ ...part, of: of.item })));
  await client.query(
    'insert into bench_part select * from unnest($1::text[], $2::text[], $3::bigint[], $4::bigint[])',
    [
      parts.map((part) => part.of),
      parts.map((part) => part.item),
      parts.map((part) => part.amount),
      parts.map((part) => (part.basis === 'part' ? PPB_ONE : 1)),
    ],
  );
  await client.query('insert into bench_demand select * from unnest($1::text[], $2::int[], $3::bigint[])', [
    lines.map((row) => row.item),
    lines.map((row) => dayOf(row.shipBy)),
    lines.map((row) => row.quantity),
  ]);
  // what a database would have for tables of its own: an index on the structure and current statistics
  await client.query('create index on bench_part (item)');
  for (const table of ['bench_item', 'bench_part', 'bench_demand']) await client.query(`analyze ${table}`);
}

function totalsOf(needs: AmountsByDay): Totals {
  let [cells, total, placed] = [0, 0n, 0n];
  for (const [name, days] of needs)
    for (const [day, quantity] of days) {
      cells++;
      total += BigInt(quantity);
      placed += BigInt(quantity) * BigInt(name.charCodeAt(name.length - 1) * 31 + (day % 97));
    }
  return { cells, total: String(total), placed: String(placed) };
}

async function median(runs: number, work: () => void | Promise<void>): Promise<number> {
  const times: number[] = [];
  for (let i = 0; i < runs; i++) {
    const begun = performance.now();
    await work();
    times.push(performance.now() - begun);
  }
  return times.sort((a, b) => a - b)[Math.floor(runs / 2)]!;
}
