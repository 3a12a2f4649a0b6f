import { monitorEventLoopDelay } from 'node:perf_hooks';
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
  const asked = () => planned(address, week);
  // its thread starts, and both have been compiled once
  await discard(app, await asked());
  await discard(app, await inThisThread(app, week));
  const apart = await heldBy(address, asked);
  await discard(app, apart.answer);
  const here = await heldBy(address, () => inThisThread(app, week));
  await discard(app, here.answer);
  return [rowOf('in a thread of its own', apart.held), rowOf('in the thread that answers', here.held)];
}

const rowOf = (where: string, { tookMs, longestMs, liveMs }: Held): string =>
  `  planned ${where.padEnd(27)} ${tookMs.toFixed(0).padStart(6)} ms, event loop held ${longestMs.toFixed(0)} ms at most, /health/live within ${liveMs.toFixed(0)} ms`;

async function planned(address: string, week: string): Promise<string> {
  const headers = { 'content-type': 'application/json', 'lotwright-person': WHO };
  const answer = await fetch(`${address}/api/runs`, {
    method: 'POST',
    headers,
    body: JSON.stringify({ weekStart: week }),
  });
  // what it says is looked at afterwards, since to read it would hold this thread, which is also the client's
  return keep(await answer.arrayBuffer());
}

const keep = (body: ArrayBuffer): string => Buffer.from(body, 0, Math.min(body.byteLength, 200)).toString();

/** As it would be without threads: the same act, and its answer as text. */
async function inThisThread(app: NestFastifyApplication, start: string): Promise<string> {
  const means = { database: app.get(Database), snapshots: new SnapshotService() };
  const today = await app.get(Clock).today();
  return JSON.stringify(await DRAFT.answer(means, { who: WHO, today, start }));
}

async function discard(app: NestFastifyApplication, answer: string): Promise<void> {
  const id = /"id":(\d+)/.exec(answer)?.[1];
  if (id === undefined) throw new Error(answer);
  await app.inject({ method: 'DELETE', url: `/api/runs/${id}` });
}

async function heldBy(address: string, plan: () => Promise<string>): Promise<{ answer: string; held: Held }> {
  const delay = monitorEventLoopDelay({ resolution: RESOLUTION_MS });
  let isOver = false;
  let liveMs = 0;
  const asking = async () => {
    while (!isOver) {
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
  const answer = await plan();
  const tookMs = performance.now() - start;
  await pause(BETWEEN_MS);
  delay.disable();
  isOver = true;
  await asked;
  return { answer, held: { tookMs, longestMs: delay.max / 1e6, liveMs } };
}
