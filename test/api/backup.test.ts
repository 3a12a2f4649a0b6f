import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import type { Client } from 'pg';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { makeApplication } from '../../src/application.js';
import { PhotoStore } from '../../src/checks/photo-store.js';
import { CONFIG, readConfig } from '../../src/config.js';
import type { Config } from '../../src/config.js';
import type { RunView } from '../../src/planning/planning.schema.js';
import { BLANKED, LEFT_OUT, tablesOf } from '../../src/platform/backup/backup-contents.js';
import { checkBackup } from '../../src/platform/backup/backup-reader.js';
import { BackupWriter } from '../../src/platform/backup/backup-writer.js';
import { keepBackup } from '../../src/platform/backup/kept-backups.js';
import type { Restored } from '../../src/platform/backup/restore-backup.js';
import { migrate } from '../../src/platform/migrate.js';
import { verifyLedger } from '../../src/verify.js';
import { startTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { asOwner, backup, on, restore } from '../support/backups.js';
import { bareDatabase } from '../support/bare-database.js';
import { liveBatches } from '../support/batch-acts.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { jpeg, png } from '../support/pictures.js';
import { schemaOf } from '../support/schema.js';
import { shelfOf } from '../support/shelf.js';
import { nextNumbers, rowsOf } from '../support/workshop-rows.js';

const TODAY = '2026-11-25';
const HOOK = 'https://hooks.example.org/path-nobody-knows';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-backup-'));
const file = join(folder, 'workshop.backup');
const configOf = (home: string): Config => ({ ...readConfig({}), home: join(folder, home), today: TODAY, demo: false });

let app: TestApp;
/** Every secret that was told, and what is kept of it. */
const secrets: string[] = [HOOK];

beforeAll(async () => {
  app = await startTestApp({ today: TODAY, filled: DEMONSTRATION });
  const { done } = shelfOf(app);
  const run = await done<RunView>('/api/runs', {});
  await done(`/api/runs/${run.id}/commit`, {});
  await liveBatches(app);
  await addPhotos(done);
  await plantSecrets();
  await backup(app.database, file, app.app.get(PhotoStore));
});
afterAll(async () => {
  rmSync(folder, { recursive: true, force: true });
  await app.close();
});

/** The same picture at a complaint and at another, and one more. */
async function addPhotos(done: ReturnType<typeof shelfOf>['done']): Promise<void> {
  for (const pictures of [[jpeg(), png()], [jpeg()]]) {
    const { code } = await done<{ code: string }>('/api/complaints', { description: 'smells burnt', harm: 'none' });
    for (const picture of pictures) {
      const type = { 'content-type': 'image/jpeg' };
      const sent = await app.request('POST', `/api/complaints/${code}/photos`, picture, type);
      expect(sent.status, sent.text).toBe(201);
    }
  }
}

async function plantSecrets(): Promise<void> {
  const set = await app.request('PUT', '/api/reminders/settings', {
    emailTo: ['maker@example.org'],
    emailDigest: true,
    webhookUrl: HOOK,
    webhookDigest: true,
    digestAt: '06:30',
    quietFrom: null,
    quietTo: null,
    countDays: 90,
    limitMonths: 12,
  });
  expect(set.status, set.text).toBe(200);
  const { done } = shelfOf(app);
  secrets.push((await done<{ secret: string }>('/api/reminders/settings/webhook-secret', {})).secret);
  const { path } = await done<{ path: string }>('/api/reminders/calendar', {});
  const [kept] = await app.database.query<{ hash: string }>('select calendar_hash as hash from notice_setting');
  secrets.push(path.slice('/calendar/'.length, -'.ics'.length), kept!.hash);
}

const tableCount = async (database: Pick<TestDatabase, 'query'>) =>
  (await database.query(`select from pg_class where relnamespace = 'public'::regnamespace and relkind = 'r'`)).length;

describe('what was backed up', () => {
  let restored: TestDatabase;
  let result: Restored;
  beforeAll(async () => {
    restored = await testDatabase();
    result = await restore(restored, file, configOf('home'));
  });
  afterAll(() => restored.drop());

  it('is there again, to the row, the next number and the last promise', async () => {
    expect(result).toEqual({ wasOlder: false, missing: [] });
    const before = await rowsOf(app.database, 'notice_setting');
    expect(await rowsOf(restored, 'notice_setting')).toEqual(before);
    for (const table of ['movement', 'reservation', 'batch_finish', 'complaint_photo', 'check_result', 'served_by'])
      expect(before, table).toHaveProperty(table);
    expect(before['movement']).not.toMatch(/^0 /);
    expect(before['complaint_photo']).toMatch(/^3 /);
    expect(await nextNumbers(restored)).toEqual(await nextNumbers(app.database));
    const checks = await verifyLedger(restored.url);
    expect(checks.filter(({ wrong }) => wrong > 0)).toEqual([]);
    const { closing } = await checkBackup(file);
    expect(closing).toMatchObject({ photos: 2, missing: [] });
    expect(closing.tables).toBe(Object.keys(before).length + 1);
  });

  it('has the schema, the rights and the guards of any other', async () => {
    expect(await schemaOf(restored)).toEqual(await schemaOf(app.database));
    await expect(restored.query('update movement set quantity = 1')).rejects.toMatchObject({ code: 'LW007' });
    await expect(restored.query('truncate movement cascade')).rejects.toMatchObject({ code: 'LW007' });
    await asOwner(restored.url, (client) =>
      expect(client.query('delete from movement')).rejects.toMatchObject({ code: '42501' }),
    );
  });

  it('has everything of how notices are sent but what opens a door, and looks at everything anew', async () => {
    const setting = `select email_to, webhook_digest, digest_at::text, count_days, limit_months from notice_setting`;
    expect(await restored.query(setting)).toEqual(await app.database.query(setting));
    expect(
      await restored.query(
        'select webhook_url, webhook_secret, calendar_hash as hash, calendar_since as since from notice_setting',
      ),
    ).toEqual([{ webhook_url: '', webhook_secret: '', hash: null, since: null }]);
    expect(await restored.query('select from change')).toHaveLength(1);
  });

  it('has its photos, each once', async () => {
    const source = app.app.get(PhotoStore);
    const copy = new PhotoStore(configOf('home'));
    const named = await restored.query<{ sha256: string }>('select distinct sha256 from complaint_photo');
    expect(named).toHaveLength(2);
    for (const { sha256 } of named) expect(await copy.get(sha256)).toEqual(await source.get(sha256));
  });

  it('goes on where it was: the same act gives the same code and the same numbers in both', async () => {
    const other = await makeApplication(configOf('home'), restored.url, { logger: false });
    try {
      const acts: [string, object][] = [
        ['/api/lots', { item: 'FO-CEDAR', quantity: '1 kg', costE4: 1_000_000 }],
        [
          '/api/orders',
          { channel: 'webshop', number: '#after', customer: 'X', lines: [{ code: 'SP-CEDAR-100', quantity: 1 }] },
        ],
        ['/api/complaints', { description: 'leaks', harm: 'none' }],
      ];
      const lasting = (body: unknown) => JSON.stringify(body).replace(/"\d{4}-\d\d-\d\dT[^"]+"/g, '"at"');
      for (const [url, payload] of acts) {
        const here = await app.request('POST', url, payload);
        expect(here.status, here.text).toBe(201);
        const there = await other.inject({ method: 'POST', url, payload });
        expect(lasting(there.json()), url).toBe(lasting(here.body));
      }
      expect(await nextNumbers(restored)).toEqual(await nextNumbers(app.database));
      expect(await restored.violations()).toEqual([]);
    } finally {
      await other.close();
    }
  });
});

describe('the file', () => {
  it('holds no secret, though the database does', async () => {
    const bytes = gunzipSync(readFileSync(file));
    expect(secrets.map((secret) => secret.length > 20)).toEqual([true, true, true, true]);
    expect(secrets.filter((secret) => bytes.includes(secret))).toEqual([]);
    expect(bytes.includes('maker@example.org')).toBe(true);
    const [told] = await app.database.query<{ n: number }>(
      `select count(*)::int as n from idempotency where body like '%whsec_%' or body like '%/calendar/%'`,
    );
    expect(told!.n).toBeGreaterThan(1);
  });

  it('leaves out every column that may hold a secret, or it is said here why not', async () => {
    const harmless = ['snapshot_hash'];
    const columns = await app.database.query<{ table: string; column: string }>(
      `select table_name as "table", column_name as "column" from information_schema.columns
       where table_schema = 'public' and column_name ~ 'secret|token|passw|hash|salt|session|credential|private|webhook_url'
       order by 1, 2`,
    );
    const open = columns.filter(
      ({ table, column }) => !(table in LEFT_OUT || column in (BLANKED[table] ?? {}) || harmless.includes(column)),
    );
    expect(open).toEqual([]);
    const all = (await asOwner(app.database.ownerUrl, tablesOf)).map(({ table, columns: of }) => [table, of] as const);
    for (const [table, blanked] of Object.entries(BLANKED))
      expect(new Map(all).get(table)).toEqual(expect.arrayContaining(Object.keys(blanked)));
    for (const table of Object.keys(LEFT_OUT)) {
      expect(all.map(([name]) => name)).not.toContain(table);
      expect(await app.database.query(`select to_regclass('${table}') as found`)).not.toEqual([{ found: null }]);
    }
  });

  it('is of one moment, whatever goes on', async () => {
    const { done } = shelfOf(app);
    const { code } = await done<{ code: string }>('/api/lots', { item: 'FO-CEDAR', quantity: '1 kg', costE4: 7 });
    const acts = (async () => {
      for (let n = 1; n <= 25; n++) await done(`/api/lots/${code}/scrap`, { quantity: n, reason: 'spilt' });
    })();
    const busy = join(folder, 'busy.backup');
    await backup(app.database, busy);
    await acts;
    await on(testDatabase(), async (copy) => {
      await restore(copy, busy, configOf('busy'));
      expect(await copy.violations()).toEqual([]);
    });
  });

  it('is given up where the disk refuses it, also in the middle of a table', async () => {
    const nowhere = join(folder, 'no/such/folder/a.backup');
    await expect(backup(app.database, nowhere)).rejects.toThrow(/^Cannot write .*ENOENT/);
    await on(testDatabase(), async (long) => {
      await long.query(
        `insert into channel (code, name) select 'c' || n, repeat('long', 25) from generate_series(1, 50000) n`,
      );
      const full = Object.assign(new Error('ENOSPC: no space left on device'), { code: 'ENOSPC' });
      const table = vi.spyOn(BackupWriter.prototype, 'table');
      table.mockImplementation(async (_, rows) => {
        for await (const piece of rows) if (piece.length > 1000) throw full;
        return { bytes: 0, lines: 0, sha256: '' };
      });
      try {
        await expect(backup(long, join(folder, 'long.backup'))).rejects.toThrow(/^Cannot write .*ENOSPC/);
      } finally {
        table.mockRestore();
      }
      expect(readdirSync(folder).filter((name) => name.startsWith('long'))).toEqual([]);
      await backup(long, join(folder, 'long.backup'));
    });
  });

  it('names a photo that is gone, and is made all the same; what it names may be missing after it', async () => {
    const { home } = app.app.get<Config>(CONFIG);
    const [photo] = await app.database.query<{ sha256: string }>(
      `select sha256 from complaint_photo where type = 'image/png'`,
    );
    const path = join(home, 'photos', photo!.sha256.slice(0, 2), photo!.sha256);
    const bytes = readFileSync(path);
    writeFileSync(path, 'damaged');
    const part = join(folder, 'part.backup');
    const { missing } = await backup(app.database, part, app.app.get(PhotoStore));
    writeFileSync(path, bytes);
    expect(missing).toEqual([photo!.sha256]);
    await on(testDatabase(), async (copy) => {
      expect((await restore(copy, part, configOf('part'))).missing).toEqual([photo!.sha256]);
    });
  });
});

describe('a restore', () => {
  it('is refused into a workshop that holds data, unless that is replaced, and what was there is kept', async () => {
    await on(testDatabase(), async (other) => {
      await other.query(`insert into item (code, name, kind, measure) values ('OWN', 'Own', 'material', 'counted')`);
      const before = await rowsOf(other);
      await expect(restore(other, file, configOf('replaced'))).rejects.toThrow(/holds data already/);
      expect(await rowsOf(other)).toEqual(before);
      let kept = '';
      const replace = async (client: unknown) => {
        kept = await keepBackup(client as Client, join(folder, 'replaced'), 'restore');
      };
      await restore(other, file, configOf('replaced'), { replace });
      expect(await other.query(`select from item where code = 'OWN'`)).toEqual([]);
      expect(await other.violations()).toEqual([]);
      await restore(other, kept, configOf('replaced'), { replace });
      expect(await rowsOf(other)).toEqual(before);
      expect(await nextNumbers(other)).toMatchObject({ item_id_seq: '1', movement_id_seq: 'none yet' });
    });
  });

  it('takes nothing of a file that is damaged after it was looked at', async () => {
    const summary = await checkBackup(file);
    const bytes = readFileSync(file);
    const half = join(folder, 'half.backup');
    writeFileSync(half, bytes.subarray(0, bytes.length / 2));
    const changed = join(folder, 'changed.backup');
    const other = Buffer.from(bytes);
    other[bytes.length - 600]! ^= 1;
    writeFileSync(changed, other);
    await on(bareDatabase(), async (empty) => {
      for (const broken of [half, changed]) {
        await expect(checkBackup(broken)).rejects.toThrow(/Nothing of it was taken/);
        await expect(restore(empty, broken, configOf('none'), { summary })).rejects.toThrow(/Nothing of it was taken/);
        expect(await tableCount(empty)).toBe(0);
      }
    });
  });

  it('takes nothing of one that breaks a promise of the ledger', async () => {
    await on(testDatabase(), async (wrong) => {
      await restore(wrong, file, configOf('wrong'));
      await wrong.query('alter table lot disable trigger user');
      await wrong.query('update lot set on_hand = on_hand + 1 where id = (select min(id) from lot where on_hand > 0)');
      await wrong.query('alter table lot enable trigger user');
      const broken = join(folder, 'broken.backup');
      await backup(wrong, broken);
      await on(testDatabase(), async (empty) => {
        const before = await rowsOf(empty);
        await expect(restore(empty, broken, configOf('none'))).rejects.toThrow(
          /breaks promises of the ledger \(lot on hand, /,
        );
        expect(await rowsOf(empty)).toEqual(before);
      });
    });
  });

  it.each([
    [
      'a CHECK',
      'alter table channel drop constraint channel_code_check',
      `insert into channel (code, name) values ('', '')`,
    ],
    [
      'a foreign key',
      'alter table lot drop constraint lot_item_id_fkey',
      `insert into lot (code, item_id, status, came_on) values ('STRAY', 999, 'released', '2026-01-01')`,
    ],
  ])('takes nothing that %s refuses', async (_, loosen, wrong) => {
    const bad = join(folder, `${loosen.split(' ').at(-1)}.backup`);
    await on(testDatabase(), async (other) => {
      await other.query(loosen);
      await other.query(wrong);
      await backup(other, bad);
    });
    await on(testDatabase(), async (empty) => {
      const before = await rowsOf(empty);
      await expect(restore(empty, bad, configOf('none'))).rejects.toThrow(
        /^The database refuses rows of the table (channel|lot): .* Nothing was restored\.$/,
      );
      expect(await rowsOf(empty)).toEqual(before);
    });
  });

  it('takes nothing where its photos cannot be kept', async () => {
    writeFileSync(join(folder, 'no-folder'), 'a file where the home should be');
    await on(testDatabase(), async (empty) => {
      const before = await rowsOf(empty);
      await expect(restore(empty, file, configOf('no-folder'))).rejects.toThrow(
        /^A photo cannot be put where photos are kept: .* Nothing was restored\.$/,
      );
      expect(await rowsOf(empty)).toEqual(before);
    });
  });

  it('takes nothing of a newer Lotwright', async () => {
    await on(testDatabase(), async (newer) => {
      await newer.query(`insert into migrations (timestamp, name) values (9764000000099, 'Later9764000000099')`);
      const later = join(folder, 'later.backup');
      await backup(newer, later);
      await on(bareDatabase(), async (empty) => {
        await expect(restore(empty, later, configOf('none'))).rejects.toThrow(
          /^This backup was made by a newer Lotwright \(it knows Later9764000000099\)/,
        );
        expect(await tableCount(empty)).toBe(0);
        await expect(backup(empty, join(folder, 'nothing.backup'))).rejects.toThrow('There is no workshop');
      });
    });
  });

  it('needs no more than the owner of the database may do', async () => {
    const owner = { name: `lotwright_plain_${process.pid}`, password: 'plain' };
    await app.database.query(`create role ${owner.name} login password '${owner.password}'`);
    try {
      await on(bareDatabase({ owner }), async (plain) => {
        await restore(plain, file, configOf('plain'));
        const owners = await plain.query<{ name: string }>(
          `select distinct relowner::regrole::text as name from pg_class where relnamespace = 'public'::regnamespace`,
        );
        expect(owners).toEqual([{ name: owner.name }]);
        await migrate(plain.ownerUrl);
        const again = join(folder, 'plain.backup');
        await backup(plain, again);
        expect((await checkBackup(again)).closing.rows).toBe((await checkBackup(file)).closing.rows);
      });
    } finally {
      await app.database.query(`drop role ${owner.name}`);
    }
  });
});
