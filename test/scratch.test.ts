import { it } from 'vitest';
import { loadModule } from 'libpg-query';
import { Client } from 'pg';
import { readFileSync, writeFileSync } from 'node:fs';
import { sourceProgram } from './support/sql/program.js';
import { callSites } from './support/sql/call-sites.js';
import { beginWithTemporaryTables, faultsOf, readShape } from './support/sql/typed-statements.js';
it('types', async () => {
  await loadModule();
  const p = sourceProgram();
  const t = Date.now();
  const sites = callSites(p).filter((s) => s.method === 'query');
  const client = new Client({ connectionString: readFileSync('/tmp/sqlscratch/url', 'utf8') });
  await client.connect();
  await beginWithTemporaryTables(client, sites);
  const shape = await readShape(client);
  const out: string[] = [];
  let n = 0;
  for (const s of sites) {
    try {
      const r = await faultsOf(s, { client, shape, checker: p.getTypeChecker() });
      n += r.checked; out.push(...r.faults);
    } catch (e) { out.push(`THROW ${s.path}:${s.line} ${(e as Error).stack!.slice(0, 600)}`); }
  }
  await client.end();
  console.log('checked', n, 'ms', Date.now() - t);
  writeFileSync('/tmp/sqlscratch/types.log', out.join('\n'));
}, 300000);
