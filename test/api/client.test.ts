import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { beforeAll, expect, it } from 'vitest';
import { readConfig } from '../../src/config.js';
import { loadDemoIfEmpty } from '../../src/terminal.js';
import { useTestApp } from '../support/app.js';

const CLIENT = fileURLToPath(new URL('../client/', import.meta.url));
const run = promisify(execFile);
const bin = (name: string) => `node_modules/.bin/${name}`;

const app = useTestApp({ today: '2026-11-25' });

beforeAll(() => loadDemoIfEmpty(app.app, { ...readConfig({}), demo: true }));

it('has a description from which a client can be made that fits the types and plays the README', async () => {
  await run(bin('openapi-typescript'), ['src/openapi.json', '-o', `${CLIENT}api.ts`, '--default-non-nullable=false']);
  const types = await run(bin('tsc'), ['-p', CLIENT]).catch((refused: { stdout: string }) => refused);
  expect(types.stdout).toBe('');

  await app.app.listen(0, '127.0.0.1');
  const { port } = app.app.getHttpServer().address() as { port: number };
  // its types are made by this test, so the project's own type check cannot know it
  const { play } = (await import(/* @vite-ignore */ `${CLIENT}play.ts`)) as {
    play(base: string): Promise<Record<string, unknown>>;
  };
  const played = await play(`http://127.0.0.1:${port}`);
  expect(played).toMatchObject({
    ready: 'ok',
    bulks: 3,
    cedarDensity: null,
    percents: ['95.2380952 %', '4.7619048 %'],
    plum: 'FO-PLUM',
    pack: 'PLUM-4OZ',
    lotOnHand: 113_562,
    order: 'webshop/#9001',
    imported: 2,
    found: 2,
    run: 1,
    undone: 'undone',
    refused: ['invalid', 'invalid', 'no-such-route', 'not-found'],
  });
  for (const many of ['formulaLines', 'sheetMg', 'cedarLots', 'deliveries', 'needs', 'batches', 'toReorder'])
    expect(played[many], many).toBeGreaterThan(0);
}, 300_000);
