import { loadModule } from 'libpg-query';
import { Client } from 'pg';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { testDatabase } from '../../support/database.js';
import type { TestDatabase } from '../../support/database.js';
import { callSites } from '../../support/sql/call-sites.js';
import type { CallSite } from '../../support/sql/call-sites.js';
import { isPlanted, plant, sourceProgram } from '../../support/sql/program.js';
import { faultsOf, openShape } from '../../support/sql/typed-statements.js';
import type { DatabaseShape } from '../../support/sql/typed-statements.js';

/** Reading the types of the whole application takes its time on a busy machine. */
const PROGRAM_MS_MAX = 900_000;

let database: TestDatabase;
let client: Client;
let shape: DatabaseShape;

beforeAll(async () => {
  await loadModule();
  database = await testDatabase();
  client = new Client({ connectionString: database.ownerUrl });
  await client.connect();
  shape = await openShape(client, statements());
}, PROGRAM_MS_MAX);

afterAll(async () => {
  await client?.end();
  await database?.drop();
});

const statements = () =>
  callSites(sourceProgram()).filter(({ method, path }) => method === 'query' && !isPlanted(path));

async function faultsIn(sites: readonly CallSite[]): Promise<{ faults: string[]; checked: number }> {
  const all: string[] = [];
  let checked = 0;
  for (const site of sites) {
    const found = await faultsOf(site, { client, shape, checker: sourceProgram().getTypeChecker() });
    all.push(...found.faults);
    checked += found.checked;
  }
  return { faults: all, checked };
}

describe('what a statement answers', () => {
  it(
    'is what its rows are claimed to be, in every place of the sources',
    async () => {
      const sites = statements();
      const { faults, checked } = await faultsIn(sites);
      process.stdout.write(
        `${checked} statements of ${sites.length} places were described by the database, all of them as they stand in the source.\n`,
      );
      expect(faults).toEqual([]);
      expect(checked).toBeGreaterThan(500);
    },
    PROGRAM_MS_MAX,
  );
});

const MANAGER = `import type { EntityManager } from 'typeorm'; declare const tx: EntityManager; declare const none: string | null;`;
const asking = (row: string, sql: string, values = '[]') =>
  `export const rows = tx.query<${row}>(\`${sql}\`, ${values})`;

describe('a planted claim', () => {
  const refused: [string, string, string][] = [
    ['another name', asking('{ lot: string }[]', 'select code from lot'), 'answers code, which is not claimed'],
    ['a name that is not answered', asking('{ code: string; id: number }[]', 'select code from lot'), 'claims id'],
    ['another type', asking('{ id: string }[]', 'select id from lot'), 'is string and comes as number'],
    [
      'a sum that is no number',
      asking('{ sum: number }[]', 'select sum(on_hand) from lot group by id'),
      'comes as string',
    ],
    ['a day as an instant', asking('{ came_on: Date }[]', 'select came_on from lot'), 'is Date and comes as string'],
    [
      'an instant as text',
      asking('{ at: string }[]', 'select created_at as at from lot'),
      'is string and comes as Date',
    ],
    [
      'a list of something else',
      asking('{ ids: string[] }[]', 'select array_agg(id) as ids from lot group by id'),
      'number[]',
    ],
    ['a column that may be null', asking('{ expires_on: string }[]', 'select expires_on from lot'), 'may be null'],
    [
      'the far side of an outer join',
      asking('{ code: string }[]', 'select b.code from lot l left join batch b on b.id = l.batch_id'),
      'may be null',
    ],
    ['the greatest of no rows', asking('{ max: number }[]', 'select max(id) from lot'), 'may be null'],
    [
      'a subquery that finds nothing',
      asking('{ c: string }[]', 'select (select code from lot where id = i.id) as c from item i'),
      'may be null',
    ],
    [
      'a CASE without an ELSE',
      asking('{ c: string }[]', 'select case when id > 1 then code end as c from lot'),
      'may be null',
    ],
    [
      'one side of a UNION',
      asking('{ d: string }[]', 'select came_on as d from lot union select expires_on from lot'),
      'may be null',
    ],
    ['a value that may be null', asking('{ x: string }[]', 'select $1::text as x', '[none]'), 'may be null'],
    ['any', asking('{ code: any }[]', 'select code from lot'), 'is any'],
    ['rows that say nothing', 'export const rows = tx.query(`select code from lot`)', 'does not say what its rows are'],
    ['one row of many', asking('{ id: number }', 'select id from lot'), 'claims no list of rows'],
    [
      'an UPDATE without the number of its rows',
      asking('{ id: number }[]', `update lot set place = '' returning id`),
      'no rows beside their number',
    ],
    ['a statement the database refuses', asking('{ id: number }[]', 'select id from lott'), 'is refused'],
  ];
  const accepted: [string, string][] = [
    ['narrower words', asking(`{ status: 'held' | 'released' }[]`, 'select status from lot')],
    ['more than there is', asking('{ code: string | null }[]', 'select code from lot')],
    [
      'a row that is named where it may be missing',
      asking('{ code: string | null }[]', 'select b.code from lot l left join batch b on b.id = l.batch_id'),
    ],
    [
      'a row a condition demands',
      asking(
        '{ code: string }[]',
        `select b.code from lot l left join batch b on b.id = l.batch_id where b.day > now()`,
      ),
    ],
    [
      'a column a condition demands',
      asking('{ expires_on: string }[]', 'select expires_on from lot where expires_on is not null'),
    ],
    [
      'a count and a sum of groups',
      asking('{ n: number; s: string }[]', 'select count(*) as n, sum(on_hand) as s from lot group by place'),
    ],
    ['what stands in for null', asking('{ e: string }[]', `select coalesce(expires_on, came_on) as e from lot`)],
    ['a value that is given', asking('{ x: string }[]', 'select $1::text as x', `['a' as string]`)],
    [
      'an UPDATE with the number of its rows',
      asking('[{ id: number }[], number]', `update lot set place = '' returning id`),
    ],
    [
      'a part of another type',
      `import type { Lot } from './stock.entity.js'; ${asking(`Pick<Lot, 'code'>[]`, 'select code from lot')}`,
    ],
    ['what nobody looks at', 'void tx.query(`select code from lot`)'],
    [
      'a recursive walk',
      asking(
        '{ id: number }[]',
        'with recursive w as (select id from lot union select l.id from w join lot l on l.parent_lot_id = w.id) select id from w',
      ),
    ],
  ];

  const faultsAt = async (path: string) =>
    (await faultsIn(callSites(sourceProgram()).filter((site) => site.path === path))).faults;
  const plantedIn = (text: string) => plant('stock', `${MANAGER}\n${text};`);

  it.each(refused.map(([name, text, sentence]) => ({ name, path: plantedIn(text), sentence })))(
    'is refused of $name',
    async ({ path, sentence }) => {
      expect(await faultsAt(path)).toContainEqual(expect.stringContaining(sentence));
    },
  );

  it.each(accepted.map(([name, text]) => ({ name, path: plantedIn(text) })))(
    'is accepted of $name',
    async ({ path }) => {
      expect(await faultsAt(path)).toEqual([]);
    },
  );
});
