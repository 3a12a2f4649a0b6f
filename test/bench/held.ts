import { once } from 'node:events';
import { type IncomingMessage, request } from 'node:http';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { finished } from 'node:stream/promises';
import { setTimeout as pause } from 'node:timers/promises';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { DRAFT } from '../../src/planning/draft.js';
import { SnapshotService } from '../../src/planning/snapshot.service.js';
import { Clock } from '../../src/platform/clock.js';
import { Database } from '../../src/platform/database.js';

const RESOLUTION_MS = 1;
const BETWEEN_MS = 5;
const WHO = 'bench';

interface Held {
  tookMs: number;
  /** The longest the event loop did nothing else. */
  longestMs: number;
  /** The longest anybody waited who asked whether the server lives. */
  liveMs: number;
}

/** How long planning a week holds up everybody else, beside the same done in the thread that answers requests. */
export async function heldRows(app: NestFastifyApplication, week: string): Promise<string[]> {
  await app.listen(0, '127.0.0.1');
  const address = `http://127.0.0.1:${(app.getHttpServer().address() as { port: number }).port}`;
  const rows: string[] = [];
  const measure = async (what: string, work: () => Promise<unknown>): Promise<Held> => {
    // what was planned once is known, and known it holds nobody up
    await orderOneMore(app, rows.length);
    const held = await heldBy(address, work);
    rows.push(rowOf(what, held));
    return held;
  };
  const { tookMs } = await measure('in a thread of its own', () => planned(address, week));
  await measure('in the thread that answers', () => inThisThread(app, week));
  await measure('nothing, for as long', () => pause(tookMs));
  return rows;
}

async function orderOneMore(app: NestFastifyApplication, serial: number): Promise<void> {
  const lines = [{ code: 'SP-FIG-100', quantity: 1, shipBy: '2026-12-30' }];
  const payload = { channel: 'webshop', number: `HELD-${serial}`, lines };
  const { statusCode, body } = await app.inject({ method: 'POST', url: '/api/orders', payload });
  if (statusCode !== 201) throw new Error(body);
}

const rowOf = (where: string, { tookMs, longestMs, liveMs }: Held): string =>
  `  planning ${where.padEnd(27)} ${tookMs.toFixed(0).padStart(6)} ms, event loop held ${longestMs.toFixed(0)} ms at most, /health/live within ${liveMs.toFixed(0)} ms`;

/** What comes is let pass unread: the client lives in the thread that is measured. */
async function planned(address: string, week: string): Promise<void> {
  const asked = request(`${address}/api/runs`, { method: 'POST', headers: { 'content-type': 'application/json' } });
  asked.end(JSON.stringify({ weekStart: week }));
  const [answer] = (await once(asked, 'response')) as [IncomingMessage];
  await finished(answer.resume());
  if (answer.statusCode !== 201) throw new Error(`planning answered ${answer.statusCode}`);
}

/** As it would be without threads: the same act, and its answer as text. */
async function inThisThread(app: NestFastifyApplication, start: string): Promise<string> {
  const means = { database: app.get(Database), snapshots: new SnapshotService() };
  const today = await app.get(Clock).today();
  return JSON.stringify(await DRAFT.answer(means, { who: WHO, today, start }));
}

async function heldBy(address: string, work: () => Promise<unknown>): Promise<Held> {
  const delay = monitorEventLoopDelay({ resolution: RESOLUTION_MS });
  const over = new AbortController();
  let liveMs = 0;
  const asking = async () => {
    while (!over.signal.aborted) {
      const start = performance.now();
      await (await fetch(`${address}/health/live`)).arrayBuffer();
      liveMs = Math.max(liveMs, performance.now() - start);
      await pause(BETWEEN_MS);
    }
  };
  const asked = asking();
  await pause(100);
  liveMs = 0;
  delay.enable();
  const start = performance.now();
  await work();
  const tookMs = performance.now() - start;
  await pause(BETWEEN_MS);
  delay.disable();
  over.abort();
  await asked;
  return { tookMs, longestMs: delay.max / 1e6, liveMs };
}
