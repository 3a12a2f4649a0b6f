import { Client } from 'pg';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { applyFunctions, forgetFunctions, readFunctions } from '../../src/platform/database-functions.js';
import { migrate } from '../../src/platform/migrate.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';

let copy: TestDatabase;
let owner: Client;
beforeAll(async () => {
  copy = await testDatabase();
  owner = new Client({ connectionString: copy.ownerUrl });
  await owner.connect();
});
afterAll(async () => {
  await owner.end();
  await copy.drop();
});

const OTHER = '0'.repeat(64);
const body = async (name: string) =>
  (await copy.query<{ body: string }>('select prosrc as body from pg_proc where proname = $1', [name]))[0]!.body;
/** As some other Lotwright would have made it. */
async function makeOtherwise(version: string): Promise<void> {
  await copy.query(`create or replace function refuse_release() returns trigger language plpgsql as $$
    begin raise exception 'otherwise'; end $$`);
  await copy.query(`update database_function set hash = $1, version = $2 where name = 'refuse_release'`, [
    OTHER,
    version,
  ]);
}

describe('the functions and views of the database', () => {
  beforeEach(async () => {
    await forgetFunctions(owner);
    await applyFunctions(owner);
  });

  it('lie in files that each make the one thing they are named by, and say what it is for', () => {
    const functions = readFunctions();
    expect(functions.length).toBeGreaterThanOrEqual(40);
    for (const { name, kind, sql } of functions) {
      expect(sql, name).toMatch(/^-- /);
      const makes = [...sql.matchAll(/^create (?:or replace )?(?:function|view) (\w+)/gm)].map((made) => made[1]);
      expect(makes, name).toEqual([name]);
      expect(sql, name).toMatch(kind === 'view' ? /^create view /m : /^create or replace function /m);
    }
  });

  it('are all there is in the database, and what is written of each is what it was made of', async () => {
    const there = await copy.query<{ name: string }>(`
      select proname as name from pg_proc where pronamespace = 'public'::regnamespace
      union all select viewname from pg_views where schemaname = 'public' order by 1`);
    const functions = readFunctions().toSorted((left, right) => (left.name < right.name ? -1 : 1));
    expect(there.map(({ name }) => name)).toEqual(functions.map(({ name }) => name));
    expect(await copy.query('select name, hash from database_function order by name')).toEqual(
      functions.map(({ name, hash }) => ({ name, hash })),
    );
  });

  it('are made anew at a start where the file says otherwise, and only those', async () => {
    const before = await copy.query(`select name, made_at from database_function where name <> 'refuse_release'`);
    const present = await body('refuse_release');
    await makeOtherwise('0.1.0');
    await migrate(copy.ownerUrl);
    expect(await body('refuse_release')).toBe(present);
    expect(await copy.query(`select name, made_at from database_function where name <> 'refuse_release'`)).toEqual(
      expect.arrayContaining(before),
    );
  });

  it('are left alone where a newer Lotwright of the same schema made one', async () => {
    await makeOtherwise('99.0.0');
    await migrate(copy.ownerUrl);
    expect(await body('refuse_release')).toContain('otherwise');
  });

  it('are not touched in a database of a newer schema', async () => {
    await makeOtherwise('0.1.0');
    await copy.query(`insert into migrations ("timestamp", name) values (9999999999999, 'Later9999999999999')`);
    await expect(migrate(copy.ownerUrl)).rejects.toThrow('newer Lotwright');
    await copy.query(`delete from migrations where name = 'Later9999999999999'`);
    expect(await body('refuse_release')).toContain('otherwise');
  });

  it('are all made anew after a migration, which may have replaced any of them', async () => {
    const present = await body('refuse_release');
    await copy.query(`create or replace function refuse_release() returns trigger language plpgsql as $$
      begin raise exception 'as the migration needed it'; end $$`);
    // of the same hash still: nothing tells that it is another
    await applyFunctions(owner);
    expect(await body('refuse_release')).toContain('as the migration needed it');
    await forgetFunctions(owner);
    await applyFunctions(owner);
    expect(await body('refuse_release')).toBe(present);
  });

  it('are made all or not at all', async () => {
    await makeOtherwise('0.1.0');
    // whoever reads a view holds it back
    await copy.query(`create view of_another as select * from lead_time`);
    await copy.query(`update database_function set hash = '${OTHER}' where name = 'lead_time'`);
    await expect(applyFunctions(owner)).rejects.toThrow('depend on it');
    expect(await body('refuse_release')).toContain('otherwise');
    await copy.query('drop view of_another');
    await applyFunctions(owner);
    expect(await body('refuse_release')).not.toContain('otherwise');
  });
});

describe('the rights', () => {
  it('of functions: whoever acts as the owner looks for nothing outside, and two are for the application alone', async () => {
    const rows = await copy.query<{ name: string; as_owner: boolean; settings: string[] | null; everybody: boolean }>(`
      select proname as name, prosecdef as as_owner, proconfig as settings,
        exists (select from aclexplode(coalesce(proacl, acldefault('f', proowner))) where grantee = 0) as everybody
      from pg_proc where pronamespace = 'public'::regnamespace order by 1`);
    const asOwner = rows.filter((row) => row.as_owner);
    expect(asOwner.length).toBeGreaterThan(15);
    for (const { name, settings } of asOwner) expect(settings, name).toContain('search_path=public');
    expect(rows.filter((row) => !row.everybody).map(({ name }) => name)).toEqual(['forget_customer', 'remove_demo']);
    const refused = await copy.query(`select oid::regprocedure from pg_proc
      where pronamespace = 'public'::regnamespace and not has_function_privilege('lotwright_app', oid, 'execute')`);
    expect(refused).toEqual([]);
  });

  it('of views: they are read, and no way around what tables refuse', async () => {
    const rows = await copy.query<{ rights: string }>(`
      select c.relname || ' ' || a.privilege_type as rights from pg_class c cross join lateral aclexplode(c.relacl) a
      where c.relkind = 'v' and c.relnamespace = 'public'::regnamespace and a.grantee <> c.relowner order by 1`);
    const views = readFunctions().filter(({ kind }) => kind === 'view');
    expect(rows.map(({ rights }) => rights)).toEqual(views.map(({ name }) => `${name} SELECT`).sort());
  });

  it('of what they were made of: nobody but the owner reads or writes it', async () => {
    const client = new Client({ connectionString: copy.url });
    await client.connect();
    for (const table of ['database_function', 'served_by']) {
      await expect(client.query(`select * from ${table}`)).rejects.toMatchObject({ code: '42501' });
      await expect(client.query(`update ${table} set version = '1'`)).rejects.toMatchObject({ code: '42501' });
      await expect(client.query(`delete from ${table}`)).rejects.toMatchObject({ code: '42501' });
    }
    await client.end();
  });
});
