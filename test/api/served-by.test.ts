import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readConfig } from '../../src/config.js';
import { openDatabase } from '../../src/platform/open-database.js';
import { isNewer, VERSION } from '../../src/platform/program-version.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';

let copy: TestDatabase;
beforeAll(async () => void (copy = await testDatabase()));
afterAll(() => copy.drop());

/** What a start says of news; `serves` is a server's, without it another program's. */
async function news(serves = true): Promise<string[]> {
  const { notes } = await openDatabase(readConfig({ DATABASE_URL: copy.ownerUrl }), { serves });
  return notes.filter((line) => line.startsWith('New in'));
}
const servedBy = async () => (await copy.query<{ version: string }>('select version from served_by'))[0]?.version;

describe('what is new', () => {
  it('is nothing in a database nobody served before', async () => {
    expect(await servedBy()).toBeUndefined();
    expect(await news(false)).toEqual([]);
    expect(await servedBy()).toBeUndefined();
    expect(await news()).toEqual([]);
    expect(await servedBy()).toBe(VERSION);
  });

  it('is said once after an older version, in the words of the change log, by whoever serves', async () => {
    await copy.query(`update served_by set version = '0.0.9'`);
    expect(await news(false)).toEqual([]);
    const [entry] = /^## .*\n\n.*$/m.exec(readFileSync('CHANGELOG.md', 'utf8'))!;
    expect(await news()).toEqual([`New in ${entry.slice('## '.length).replace('\n\n', ': ')}`]);
    expect(entry).toMatch(new RegExp(`^## ${VERSION}\n\n.{20,200}\\.$`));
    expect(await news()).toEqual([]);
  });

  it('is nothing after a newer version, which may have served the same schema', async () => {
    await copy.query(`update served_by set version = '99.0.0'`);
    expect(await news()).toEqual([]);
    expect(await servedBy()).toBe(VERSION);
  });

  it.each([
    ['0.2.0', '0.1.0', true],
    ['0.10.0', '0.9.9', true],
    ['1.0.0', '0.99.99', true],
    ['0.2.0', '0.2.0', false],
    ['0.1.9', '0.2.0', false],
  ])('%s after %s: %s', (version, than, answer) => {
    expect(isNewer(version, than)).toBe(answer);
  });
});
