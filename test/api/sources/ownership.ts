import { loadModule } from 'libpg-query';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { testDatabase } from '../../support/database.js';
import type { TestDatabase } from '../../support/database.js';
import { ROOMS, ROOMS_WITHOUT_SQL, roomOf } from '../../support/rooms.js';
import { callSites } from '../../support/sql/call-sites.js';
import type { CallSite } from '../../support/sql/call-sites.js';
import { FUNCTIONS } from '../../support/sql/function-bodies.js';
import type { DatabaseFunction } from '../../support/sql/function-bodies.js';
import { usesOf, usesOfFunction, violations } from '../../support/sql/ownership.js';
import type { Use } from '../../support/sql/ownership.js';
import { isPlanted, plant, sourceProgram } from '../../support/sql/program.js';
import { EXCEPTIONS, FUNCTION_OWNERS, TABLE_OWNERS, UNREAD } from '../../support/table-owners.js';

const OWNERS = { rooms: ROOMS, tables: TABLE_OWNERS, functions: FUNCTION_OWNERS };
const PROGRAM_MS_MAX = 900_000;

let database: TestDatabase;
let sites: CallSite[];
let functions: DatabaseFunction[];
const uses: Use[] = [];
const unread: string[] = [];

beforeAll(async () => {
  await loadModule();
  database = await testDatabase();
  functions = await database.query<DatabaseFunction>(FUNCTIONS);
  sites = callSites(sourceProgram()).filter(({ path }) => !isPlanted(path));
  for (const site of sites) add(usesOf(site, roomOf(site.path)));
  for (const made of functions)
    add(usesOfFunction(made, (made.language === 'view' ? TABLE_OWNERS : FUNCTION_OWNERS)[made.name] ?? ''));
}, PROGRAM_MS_MAX);

afterAll(() => database?.drop());

function add(read: { uses: Use[]; unread: string[] }): void {
  uses.push(...read.uses);
  unread.push(...read.unread);
}

/** The first word is the file or the function, with its line. */
const placeIn = (sentence: string) => sentence.split(/[: ]/)[0]!;
const isExcepted = ({ in: place, does, of }: Use) => EXCEPTIONS[place]?.uses.includes(`${does} ${of}`);

describe('who owns a table', () => {
  it('is said of every table, view and function there is, and of no other', async () => {
    const tables = await database.query<{ name: string }>(
      `select table_name as name from information_schema.tables where table_schema = 'public' order by 1`,
    );
    const temporary = uses.filter(({ does }) => does === 'makes').map(({ of }) => of);
    const all = new Set([...tables.map(({ name }) => name), ...temporary]);
    expect([...all].sort()).toEqual(Object.keys(TABLE_OWNERS).sort());
    const names = functions.filter(({ language }) => language !== 'view').map(({ name }) => name);
    expect(names).toEqual(Object.keys(FUNCTION_OWNERS).sort());
    for (const room of [...Object.values(TABLE_OWNERS), ...Object.values(FUNCTION_OWNERS)])
      expect([...ROOMS, 'application']).toContain(room);
  });

  it('holds in every statement of the sources and of the database', () => {
    expect(sites.length).toBeGreaterThan(500);
    const broken = violations(uses, OWNERS).filter((use) => !isExcepted(use));
    expect(broken.map(({ sentence }) => sentence)).toEqual([]);
  });

  it('can be told of every place, but where it is said why not', () => {
    expect(unread.filter((sentence) => UNREAD[placeIn(sentence)] === undefined)).toEqual([]);
    expect(Object.keys(UNREAD).filter((place) => !unread.some((sentence) => placeIn(sentence) === place))).toEqual([]);
  });

  it('needs every exception it makes', () => {
    const broken = new Set(violations(uses, OWNERS).map(({ in: place, does, of }) => `${place} ${does} ${of}`));
    const excepted = Object.entries(EXCEPTIONS).flatMap(([place, { uses: of }]) => of.map((use) => `${place} ${use}`));
    expect(excepted.filter((use) => !broken.has(use))).toEqual([]);
  });

  it('leaves pages and arithmetic without a word of SQL', () => {
    const asking = sites.filter(({ path }) => ROOMS_WITHOUT_SQL.includes(roomOf(path)));
    expect(asking.map(({ path, line }) => `${path}:${line}`)).toEqual([]);
  });
});

const MANAGER = `import type { EntityManager } from 'typeorm'; declare const tx: EntityManager;`;

describe('a planted statement', () => {
  const planted: [string, string, string, string][] = [
    ['a write further down', 'stock', 'tx.query(`update customer_order set status = 1`)', 'only orders writes'],
    ['a write further up', 'shipping', 'tx.query(`delete from lot`)', 'only stock writes'],
    ['a read further down', 'stock', 'tx.query(`select 1 from lot l join order_line o on true`)', 'belongs to orders'],
    ['a lock further down', 'stock', 'tx.query(`select from batch for update`)', 'belongs to batches'],
    ['a read in a subquery', 'stock', 'tx.query(`select (select max(id) from peg) as id`)', 'belongs to planning'],
    ['a read in a CTE', 'stock', 'tx.query(`with o as (select * from order_line) select from o`)', 'reads order_line'],
    [
      'a write in a CTE',
      'stock',
      'tx.query(`with o as (update order_line set shipped = 1 returning id) select from o`)',
      'writes order_line',
    ],
    [
      'a table that goes by the name of a later CTE',
      'stock',
      'tx.query(`with a as (select from peg), peg as (select 1) select from peg`)',
      'reads peg',
    ],
    ['a MERGE', 'stock', 'tx.query(`merge into batch using lot on false when matched then delete`)', 'writes batch'],
    ['a TRUNCATE', 'stock', 'tx.query(`truncate lot, batch`)', 'writes batch'],
    ['a function from further down', 'orders', 'tx.query(`select remove_demo()`)', 'calls remove_demo'],
    ['a table nobody owns', 'orders', 'tx.query(`select from stray`)', 'which has no owner'],
    [
      'a text put together of constants and parameters',
      'stock',
      'const T = { a: `lot`, b: `peg` }; const go = (of: `a` | `b`) => tx.query(`select from ${T[of]}`); go(`b`)',
      'reads peg',
    ],
    [
      'a prepared statement',
      'stock',
      `import { prepared } from '../platform/database.js'; prepared(tx, { name: 'a', text: 'select from peg' }, [])`,
      'reads peg',
    ],
    [
      'an entity',
      'stock',
      `import { OrderLine } from '../orders/orders.entity.js'; tx.find(OrderLine)`,
      'reads order_line',
    ],
    [
      'an entity that is changed',
      'shipping',
      `import { OrderLine } from '../orders/orders.entity.js'; tx.update(OrderLine, 1, { shipped: 1 })`,
      'writes order_line',
    ],
    [
      'a text of which a part is not known',
      'stock',
      'tx.query(`select ${process.argv[0]}`)',
      'known only when it runs',
    ],
    ['a method that is handed on', 'stock', 'export const handedOn = tx.query', 'known only when it runs'],
    ['a statement nobody foresaw', 'stock', 'tx.query(`drop table batch`)', 'a DropStmt'],
    [
      'SQL in a condition of a builder',
      'stock',
      `import { Lot } from './stock.entity.js'; tx.createQueryBuilder(Lot, 'l').where('exists (select from peg)')`,
      'has SQL of its own in a condition',
    ],
  ];

  const paths = planted.map(([name, room, text, sentence]) => ({
    name,
    path: plant(room, `${MANAGER}\n${text};`),
    sentence,
  }));
  it.each(paths)('is refused as $name', ({ path, sentence }) => {
    const own = callSites(sourceProgram()).filter((site) => site.path === path);
    const read = own.map((site) => usesOf(site, roomOf(site.path)));
    const said = read.flatMap((one) => [...one.unread, ...violations(one.uses, OWNERS).map((use) => use.sentence)]);
    expect(said).toEqual([expect.stringContaining(sentence)]);
  });

  const bodies: [string, string, string][] = [
    ['a write', 'begin update order_line set shipped = 1; return null; end', 'writes order_line'],
    ['a read in an assignment', 'declare n int; begin n := (select max(id) from peg); return null; end', 'reads peg'],
    [
      'a read in a loop',
      'declare r record; begin for r in select * from peg loop end loop; return null; end',
      'reads peg',
    ],
    ['a text that is run', `begin execute 'update peg set quantity = 1'; return null; end`, 'writes peg'],
    [
      'a text that is put together',
      `begin execute 'truncate ' || tg_table_name; return null; end`,
      'puts a statement together',
    ],
  ];
  it.each(bodies)('is refused in a function as %s', (_, body, sentence) => {
    const definition = `create function planted() returns trigger language plpgsql as $$ ${body} $$`;
    const read = usesOfFunction({ name: 'planted', language: 'plpgsql', definition, body }, 'stock');
    const said = [...read.unread, ...violations(read.uses, OWNERS).map((use) => use.sentence)];
    expect(said).toEqual([expect.stringContaining(sentence)]);
  });

  it('is left alone where it reads what came before and writes its own', () => {
    const body = `with lot as (select 1), new as (insert into batch select from lot returning id) select from new, order_line, item`;
    const read = usesOfFunction({ name: 'planted', language: 'sql', definition: '', body }, 'batches');
    expect(read.unread).toEqual([]);
    expect(read.uses.length).toBe(3);
    expect(violations(read.uses, OWNERS)).toEqual([]);
  });
});
