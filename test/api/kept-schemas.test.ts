import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { migrate } from '../../src/platform/migrate.js';
import { bareDatabase, KEPT_SCHEMAS } from '../support/bare-database.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';
import { schemaOf } from '../support/schema.js';

const KEPT = readdirSync(KEPT_SCHEMAS).filter((file) => file.endsWith('.sql.gz'));

let fresh: TestDatabase;
let present: string[];
beforeAll(async () => {
  fresh = await testDatabase();
  present = await schemaOf(fresh);
});
afterAll(() => fresh.drop());

describe('a database of before', () => {
  it('is kept of several times', () => {
    expect(KEPT).toEqual(
      expect.arrayContaining(
        ['0009', '0014', '0018', '0021', '0024', '0025', '0026', '0027', '0028', '0029'].map(
          (number) => `after-${number}.sql.gz`,
        ),
      ),
    );
    const bytes = KEPT.map((file) => statSync(join(KEPT_SCHEMAS, file)).size).reduce((sum, size) => sum + size, 0);
    expect(bytes).toBeLessThan(2_000_000);
  });

  it.each(KEPT)('%s becomes what is made from nothing, and keeps its promises', async (file) => {
    const kept = await bareDatabase({ kept: file });
    try {
      const [before] = await kept.query<{ movements: string }>('select count(*) as movements from movement');
      expect(Number(before!.movements)).toBeGreaterThan(10);
      await migrate(kept.ownerUrl);
      const now = await schemaOf(kept);
      expect({
        more: now.filter((line) => !present.includes(line)),
        less: present.filter((line) => !now.includes(line)),
      }).toEqual({ more: [], less: [] });
      expect(now.length).toBe(present.length);
      expect(await kept.query('select * from ledger_violations()')).toEqual([]);
      expect(await kept.query('select count(*) as movements from movement')).toEqual([before]);
      // before it was written down who served, it was the version before
      const served = file < 'after-0025' ? '0.1.0' : expect.stringMatching(/^\d+\.\d+\.\d+$/);
      expect(await kept.query('select version from served_by')).toEqual([{ version: served }]);
    } finally {
      await kept.drop();
    }
  });
});
