import { DataSource } from 'typeorm';
import type { EntityManager } from 'typeorm';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Clock } from '../../src/platform/clock.js';
import { Database } from '../../src/platform/database.js';
import { migrate, MIGRATIONS } from '../../src/platform/migrate.js';
import { applicationUrl } from '../../src/platform/open-database.js';
import { poolOptions } from '../../src/platform/pool-options.js';
import { readConfig } from '../../src/config.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';

let files: TestDatabase;
let source: DataSource;
let database: Database;

beforeAll(async () => {
  files = await testDatabase();
  source = await new DataSource(poolOptions(files.url)).initialize();
  database = new Database(source);
});

afterAll(async () => {
  await source.destroy();
  await files.drop();
});

const insertVessel = (tx: EntityManager, code: string) =>
  tx.query(`insert into vessel (code, kind, capacity_mg) values ($1, 'pot', 1000)`, [code]);
const vessels = () => files.query<{ code: string }>('select code from vessel order by code');

describe('an act', () => {
  it('carries who does it and why, and nothing of it after', async () => {
    await database.act({ who: 'Zoë', why: 'a test' }, (tx) => insertVessel(tx, 'NAMED'));
    expect(await files.query(`select created_by from vessel where code = 'NAMED'`)).toEqual([{ created_by: 'Zoë' }]);
    const after = Array.from({ length: 10 }, () =>
      source.query(`select current_setting('lotwright.who', true) as who`),
    );
    for (const [row] of await Promise.all(after)) expect(row.who ?? '').toBe('');
  });

  it('is all or nothing', async () => {
    const before = await vessels();
    const act = database.act({ who: 'test' }, async (tx) => {
      await insertVessel(tx, 'HALF');
      throw new Error('no');
    });
    await expect(act).rejects.toThrow('no');
    expect(await vessels()).toEqual(before);
  });

  it('is done anew when it meets a deadlock', async () => {
    await database.act({ who: 'test' }, async (tx) => {
      await insertVessel(tx, 'LEFT');
      await insertVessel(tx, 'RIGHT');
    });
    const lock = (tx: EntityManager, code: string) =>
      tx.query('update vessel set capacity_mg = capacity_mg + 1 where code = $1', [code]);
    let tries = 0;
    // each waits until both hold their first row, so that the first meeting is a deadlock without fail
    let holding = 0;
    const both = new Promise<void>((resolve) => {
      const timer = setInterval(() => {
        if (holding < 2) return;
        clearInterval(timer);
        resolve();
      }, 5);
    });
    const cross = (first: string, second: string) =>
      database.act({ who: 'test' }, async (tx) => {
        tries++;
        await lock(tx, first);
        holding++;
        await both;
        await lock(tx, second);
      });
    await Promise.all([cross('LEFT', 'RIGHT'), cross('RIGHT', 'LEFT')]);
    expect(tries).toBeGreaterThan(2);
    expect(await files.query(`select capacity_mg::int from vessel where code in ('LEFT', 'RIGHT')`)).toEqual([
      { capacity_mg: 1002 },
      { capacity_mg: 1002 },
    ]);
  });

  it('gives up after five times with a problem that says so', async () => {
    let tries = 0;
    const act = database.act({ who: 'test' }, async (tx) => {
      tries++;
      await tx.query(`do $$ begin raise exception 'again' using errcode = '40001'; end $$`);
    });
    await expect(act).rejects.toMatchObject({ status: 409, code: 'try-again' });
    expect(tries).toBe(5);
  });
});

describe('a look', () => {
  it('sees one moment', async () => {
    const [before, after] = await database.read(async (tx) => {
      const count = async () => (await tx.query<{ count: number }[]>('select count(*) from vessel'))[0]!.count;
      const first = await count();
      await database.act({ who: 'test' }, (other) => insertVessel(other, 'MEANWHILE'));
      return [first, await count()];
    });
    expect(after).toBe(before);
  });

  it('changes nothing', async () => {
    await expect(database.read((tx) => insertVessel(tx, 'READ'))).rejects.toMatchObject({ code: '25006' });
  });
});

describe('what is read', () => {
  it('is a number for int8, text for a date, and loud past the safe integers', async () => {
    const [row] = await source.query(`select 9007199254740991::bigint as big, '2026-02-28'::date as day,
      '{1,null,3}'::bigint[] as list, '{2026-01-01}'::date[] as days, '{}'::bigint[] as none`);
    expect(row).toEqual({
      big: 9007199254740991,
      day: '2026-02-28',
      list: [1, null, 3],
      days: ['2026-01-01'],
      none: [],
    });
    await expect(source.query('select 9007199254740992::bigint')).rejects.toThrow('past what a number holds');
  });
});

describe('the role the application serves as', () => {
  it('is not the owner and cannot touch the ledger', async () => {
    expect(await source.query('select current_user as role')).toEqual([{ role: 'lotwright_app' }]);
    for (const sql of [
      'delete from movement',
      'update lot set on_hand = 1',
      'truncate movement',
      'drop table lot',
      'alter table movement disable trigger all',
    ]) {
      await expect(source.query(sql)).rejects.toMatchObject({ code: '42501' });
    }
  });

  it('is the owner where the user may not become it', async () => {
    const password = 'plain-user';
    const name = `lotwright_plain_${process.pid}`;
    await files.query(`create role ${name} login password '${password}'`);
    const url = new URL(files.ownerUrl);
    url.username = name;
    url.password = password;
    try {
      expect(await applicationUrl(url.href)).toBe(url.href);
    } finally {
      await files.query(`drop role ${name}`);
    }
  });
});

describe('migrations', () => {
  it('can be taken back one by one and done again', async () => {
    const copy = await testDatabase();
    const owner = await new DataSource({ ...poolOptions(copy.ownerUrl), migrations: MIGRATIONS }).initialize();
    for (let left = MIGRATIONS.length; left > 0; left--) await owner.undoLastMigration({ transaction: 'each' });
    const rest = await copy.query(`select c.relname from pg_class c join pg_namespace n on n.oid = c.relnamespace
      where n.nspname = 'public' and c.relkind in ('r', 'v', 'S') and c.relname not like 'migrations%'
      union all select p.proname from pg_proc p join pg_namespace n on n.oid = p.pronamespace where n.nspname = 'public'`);
    expect(rest).toEqual([]);
    await owner.destroy();
    await migrate(copy.ownerUrl);
    expect(await copy.violations()).toEqual([]);
    await copy.drop();
  });

  it('are done once by two that start together', async () => {
    const copy = await testDatabase();
    await copy.query('drop schema public cascade; create schema public');
    await Promise.all([migrate(copy.ownerUrl), migrate(copy.ownerUrl)]);
    expect(await copy.query('select name from migrations order by id')).toEqual(
      MIGRATIONS.map(({ name }) => ({ name })),
    );
    await copy.drop();
  });

  it('refuse a database that a newer Lotwright has changed', async () => {
    const copy = await testDatabase();
    await copy.query(`insert into migrations ("timestamp", name) values (9999999999999, 'Later9999999999999')`);
    await expect(migrate(copy.ownerUrl)).rejects.toThrow('newer Lotwright (it knows Later9999999999999)');
    await copy.drop();
  });
});

describe('the clock', () => {
  it("tells the day in the workshop's own zone", async () => {
    const clock = new Clock(source, readConfig({}));
    const [utc] = await source.query(`select (now() at time zone 'UTC')::date as day`);
    expect(await clock.today()).toBe(utc.day);
    // fourteen hours before and twelve behind UTC: on any instant these two are on different days
    const days = [];
    for (const zone of ['Pacific/Kiritimati', 'Etc/GMT+12']) {
      await files.query(
        `insert into workshop (name, time_zone) values ('Test', $1)
        on conflict (id) do update set time_zone = excluded.time_zone`,
        [zone],
      );
      days.push(await clock.today());
    }
    expect(days[0]! > days[1]!).toBe(true);
  });

  it('stands still where the settings say so', async () => {
    expect(await new Clock(source, readConfig({ LOTWRIGHT_TODAY: '2026-03-02' })).today()).toBe('2026-03-02');
  });
});
