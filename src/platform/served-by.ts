import { Client } from 'pg';
import type { ClientBase } from 'pg';
import { isNewer, newsLine, VERSION } from './program-version.js';

/** Which version served these data last; undefined where none did, or where that was not written down yet. */
export async function servedLastBy(owner: ClientBase): Promise<string | undefined> {
  const { rows } = await owner.query<{ found: boolean }>(`select to_regclass('served_by') is not null as found`);
  if (!rows[0]!.found) return undefined;
  const { rows: last } = await owner.query<{ version: string }>('select version from served_by');
  return last[0]?.version;
}

/** Writes down that this version serves now. Answers what is new in it, in one line, where an older one served last. */
export async function noteServing(ownerUrl: string): Promise<string | undefined> {
  const owner = new Client({ connectionString: ownerUrl });
  await owner.connect();
  try {
    const last = await servedLastBy(owner);
    if (last === VERSION) return undefined;
    await owner.query(
      `insert into served_by (version) values ($1)
       on conflict (id) do update set version = excluded.version, since = excluded.since`,
      [VERSION],
    );
    return last !== undefined && isNewer(VERSION, last) ? newsLine() : undefined;
  } finally {
    await owner.end();
  }
}
