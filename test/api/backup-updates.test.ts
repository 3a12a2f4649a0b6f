import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { readConfig } from '../../src/config.js';
import type { Config } from '../../src/config.js';
import { keepBackup, KEPT_MAX } from '../../src/platform/backup/kept-backups.js';
import { migrate } from '../../src/platform/migrate.js';
import { openDatabase } from '../../src/platform/open-database.js';
import { asOwner, backup, on, restore } from '../support/backups.js';
import { bareDatabase } from '../support/bare-database.js';
import { testDatabase } from '../support/database.js';
import { schemaOf } from '../support/schema.js';
import { rowsOf } from '../support/workshop-rows.js';

/** As versions left them: an early one, and the last before the newest change of the schema. */
const OLD = 'after-0018.sql.gz';
const LAST = 'after-0025.sql.gz';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-updates-'));
const configOf = (home: string): Config => ({ ...readConfig({}), home: join(folder, home) });
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('a backup of an older Lotwright', () => {
  it('is restored as it was and brought up to date', async () => {
    const present = await on(testDatabase(), schemaOf);
    await on(bareDatabase({ kept: OLD }), async (before) => {
      const old = join(folder, 'old.backup');
      await backup(before, old);
      await migrate(before.ownerUrl);
      // who served last says when that was
      const rows = await rowsOf(before, 'served_by');
      expect(rows['movement']).not.toMatch(/^0 /);
      await on(bareDatabase(), async (empty) => {
        expect(await restore(empty, old, configOf('empty'))).toEqual({ wasOlder: true, missing: [] });
        expect(await rowsOf(empty, 'served_by')).toEqual(rows);
        expect(await schemaOf(empty)).toEqual(present);
      });
      // and in the place of one of today
      await on(testDatabase(), async (full) => {
        await full.query(`insert into item (code, name, kind, measure) values ('OWN', 'Own', 'material', 'counted')`);
        await restore(full, old, configOf('full'), { replace: async () => {} });
        expect(await rowsOf(full, 'served_by')).toEqual(rows);
        expect(await schemaOf(full)).toEqual(present);
      });
    });
  });
});

describe('before a database is brought up to date', () => {
  it('a backup is made in the home, of which the last few are kept, and the start says where', async () => {
    const config = configOf('updated');
    const backups = () => readdirSync(join(config.home, 'backups')).sort();
    await on(bareDatabase({ kept: LAST }), async (before) => {
      const rows = await before.query<{ n: string }>('select count(*) as n from movement');
      const opened = await openDatabase({ ...config, databaseUrl: before.ownerUrl });
      const [name, ...more] = backups();
      expect(more).toEqual([]);
      const made = join(config.home, 'backups', name!);
      expect(opened.notes.join('\n')).toContain(made);
      await on(bareDatabase(), async (empty) => {
        expect(await restore(empty, made, config)).toEqual({ wasOlder: true, missing: [] });
        expect(await empty.query('select count(*) as n from movement')).toEqual(rows);
      });

      const again = await openDatabase({ ...config, databaseUrl: before.ownerUrl });
      expect(again.notes.join('\n')).not.toContain('backup');
      expect(backups()).toEqual([name]);

      const keep = (spare?: string) =>
        asOwner(before.ownerUrl, (client) => keepBackup(client, config.home, 'restore', spare));
      writeFileSync(join(config.home, 'backups', 'mine.backup'), '');
      for (let n = 0; n < KEPT_MAX; n++) await keep(made);
      expect(backups()).toHaveLength(KEPT_MAX + 2);
      expect(backups()).toContain(name);
      await keep();
      expect(backups()).toHaveLength(KEPT_MAX + 1);
      expect(backups()).not.toContain(name);
      expect(backups()).toContain('mine.backup');
    });
  });

  it('none is made where nothing can be lost, or where the settings say so', async () => {
    const config = configOf('without');
    const open = (databaseUrl: string, more: Partial<Config> = {}) => openDatabase({ ...config, ...more, databaseUrl });
    await on(bareDatabase(), ({ ownerUrl }) => open(ownerUrl));
    await on(bareDatabase({ kept: LAST }), ({ ownerUrl }) => open(ownerUrl, { backups: false }));
    expect(() => readdirSync(config.home)).toThrow('ENOENT');
  });

  it('the start is refused where none can be made', async () => {
    const config = configOf('taken');
    writeFileSync(config.home, 'a file where the folder should be');
    await on(bareDatabase({ kept: LAST }), async (before) => {
      const done = await before.query('select name from migrations order by id');
      await expect(openDatabase({ ...config, databaseUrl: before.ownerUrl })).rejects.toThrow(
        /^No backup could be made before .* LOTWRIGHT_BACKUPS=0\.$/,
      );
      expect(await before.query('select name from migrations order by id')).toEqual(done);
    });
  });
});
