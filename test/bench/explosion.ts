import type pg from 'pg';
import { buildStructure, explode, needRows } from '../../src/kernel/plan/explosion.js';
import type { Demand, Needs, StructureItem } from '../../src/kernel/plan/explosion.js';

const LINES = 100_000;
const PRODUCTS = 500;
const BULKS = 100;
const PREMIXES = 60;
const MATERIALS = 200;
const DAYS = 180;
const SQL_RUNS = 3;
const KERNEL_RUNS = 31;
const KERNEL_WARM_UP = 10;

/** The same numbers every time (Lehmer generator, MINSTD), so that two runs measure the same work. */
function generator(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state = (state * 48_271) % 2_147_483_647;
    return state % below;
  };
}

const code = (prefix: string, n: number): string => `${prefix}-${String(n).padStart(3, '0')}`;

/** Four levels: products from a bulk and packaging, bulks from premixes and materials, premixes from materials. */
function workshop(): { items: StructureItem[]; demands: Demand[] } {
  const pick = generator(20_251);
  const percents = (codes: string[]) => codes.map((of) => ({ code: of, numerator: 1 + pick(20), denominator: 100 }));
  const some = (prefix: string, count: number, of: number) => {
    const first = pick(of);
    return Array.from({ length: count }, (_, i) => code(prefix, (first + i * 7) % of));
  };
  const items: StructureItem[] = [];
  for (let i = 0; i < PRODUCTS; i++) {
    // fills are whole tens of grams, so that percents of percents are whole milligrams and SQL need not round
    const fill = { code: code('BLK', pick(BULKS)), numerator: 10_000 * (1 + pick(30)), denominator: 1 };
    const packaging = some('MAT', 5, MATERIALS).map((of) => ({ code: of, numerator: 1, denominator: 1 }));
    items.push({ code: code('PRD', i), parts: [fill, ...packaging], leadDays: 1 });
  }
  for (let i = 0; i < BULKS; i++) {
    const parts = percents([...some('MIX', 3, PREMIXES), ...some('MAT', 5, MATERIALS)]);
    items.push({ code: code('BLK', i), parts, leadDays: 7 + pick(14) });
  }
  for (let i = 0; i < PREMIXES; i++)
    items.push({ code: code('MIX', i), parts: percents(some('MAT', 5, MATERIALS)), leadDays: pick(3) });
  for (let i = 0; i < MATERIALS; i++) items.push({ code: code('MAT', i), parts: [] });
  const demands = Array.from({ length: LINES }, () => ({
    code: code('PRD', pick(PRODUCTS)),
    day: 20_000 + pick(DAYS),
    quantity: 1 + pick(6),
  }));
  return { items, demands };
}

/** Order lines summed by item and day first, as anyone would, then exploded along every path and summed again. */
const RECURSIVE_SQL = `
  with recursive need (item, day, quantity) as (
    select item, day, sum(quantity)::bigint from bench_demand group by item, day
    union all
    select p.part, n.day - i.lead_days, n.quantity * p.numerator / p.denominator
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
 * Explodes 100,000 order lines over four levels, once by recursive SQL over temporary tables and once by `explode`,
 * and returns printable rows with the median times and their ratio. Throws when the two disagree.
 */
export async function explosionRows(pool: pg.Pool): Promise<string[]> {
  const { items, demands } = workshop();
  const client = await pool.connect();
  try {
    await load(client, items, demands);
    let fromSql: Totals | undefined;
    const sqlMs = await median(SQL_RUNS, async () => {
      fromSql = (await client.query<Totals>(RECURSIVE_SQL)).rows[0];
    });
    const structure = buildStructure(items);
    let needs: Needs | undefined;
    const run = () => {
      needs = explode(structure, demands);
    };
    const coldMs = await median(1, run);
    await median(KERNEL_WARM_UP, run);
    const kernelMs = await median(KERNEL_RUNS, run);
    const fromKernel = totalsOf(needs!);
    if (JSON.stringify(fromSql) !== JSON.stringify(fromKernel))
      throw new Error(`the explosions disagree: ${JSON.stringify({ fromSql, fromKernel })}`);
    return [
      `explosion of ${LINES} lines, ${PRODUCTS} products, 4 levels, ${fromKernel.cells} item-days (totals agree)`,
      `  recursive SQL   ${sqlMs.toFixed(1).padStart(9)} ms  (median of ${SQL_RUNS})`,
      `  explode         ${kernelMs.toFixed(1).padStart(9)} ms  (median of ${KERNEL_RUNS} after ${KERNEL_WARM_UP}; the very first ${coldMs.toFixed(1)} ms)`,
      `  ratio           ${(sqlMs / kernelMs).toFixed(0).padStart(9)} x`,
    ];
  } finally {
    // not back to the pool: its temporary tables go with it
    client.release(true);
  }
}

async function load(client: pg.PoolClient, items: StructureItem[], demands: Demand[]): Promise<void> {
  await client.query(`
    drop table if exists bench_demand, bench_part, bench_item;
    create temp table bench_item (code text primary key, lead_days int not null);
    create temp table bench_part (item text not null, part text not null, numerator bigint not null, denominator bigint not null);
    create temp table bench_demand (item text not null, day int not null, quantity bigint not null)`);
  await client.query('insert into bench_item select * from unnest($1::text[], $2::int[])', [
    items.map((item) => item.code),
    items.map((item) => item.leadDays ?? 0),
  ]);
  const parts = items.flatMap((item) => item.parts.map((part) => ({ item: item.code, ...part })));
  await client.query(
    'insert into bench_part select * from unnest($1::text[], $2::text[], $3::bigint[], $4::bigint[])',
    [
      parts.map((part) => part.item),
      parts.map((part) => part.code),
      parts.map((part) => part.numerator),
      parts.map((part) => part.denominator),
    ],
  );
  await client.query('insert into bench_demand select * from unnest($1::text[], $2::int[], $3::bigint[])', [
    demands.map((demand) => demand.code),
    demands.map((demand) => demand.day),
    demands.map((demand) => demand.quantity),
  ]);
  // what a database would have for tables of its own: an index on the structure and current statistics
  await client.query('create index on bench_part (item)');
  for (const table of ['bench_item', 'bench_part', 'bench_demand']) await client.query(`analyze ${table}`);
}

function totalsOf(needs: Needs): Totals {
  let total = 0n;
  let placed = 0n;
  for (const { code: name, day, gross } of needRows(needs)) {
    total += BigInt(gross);
    placed += BigInt(gross) * BigInt(name.charCodeAt(name.length - 1) * 31 + (day % 97));
  }
  return { cells: needs.count, total: String(total), placed: String(placed) };
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
