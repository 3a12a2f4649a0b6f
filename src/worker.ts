import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { readConfig } from './config.js';
import { sayWhy, StartProblem } from './platform/start-problem.js';
import { outliveCutConnections, stopSignal, withinTime } from './platform/stopping.js';

const LOOK_MS = 5000;
/** A database that is away for longer does not come back at this address: an embedded one has another port each time. */
const AWAY_MS_MAX = 60_000;

/** A process that works the jobs and serves nobody: the same application, without doors. As many as one likes. */
async function main(): Promise<void> {
  const config = readConfig({ ...process.env, WORKER: 'here' });
  const stopping = stopSignal();
  const { openDatabase } = await import('./platform/open-database.js');
  const database = await openDatabase(config, { join: true });
  let app: NestFastifyApplication | undefined;
  try {
    for (const line of database.notes) console.error(line);
    const { makeApplication } = await import('./application.js');
    app = await makeApplication(config, database.url, { worksJobs: true });
    console.log(`Lotwright works the jobs on ${config.redisUrl ? 'Redis' : 'PostgreSQL'} (Ctrl-C stops it)`);
    const why = await Promise.race([stopping, database.lost.then(() => 'lost'), away(app)]);
    if (why !== 'asked') throw new StartProblem('The database is gone. Start the worker again when it is back.');
  } finally {
    await withinTime(app?.close());
    await database.close();
  }
}

/** Resolves when the database has not answered for a minute. */
async function away(app: NestFastifyApplication): Promise<'away'> {
  const { DataSource } = await import('typeorm');
  const dataSource = app.get(DataSource);
  let seenAt = Date.now();
  while (Date.now() - seenAt < AWAY_MS_MAX) {
    await new Promise<void>((resolve) => void setTimeout(resolve, LOOK_MS).unref());
    await dataSource.query<unknown>('select 1').then(
      () => (seenAt = Date.now()),
      () => {},
    );
  }
  return 'away';
}

outliveCutConnections();

try {
  await main();
  process.exit(0);
} catch (error) {
  sayWhy(error);
  process.exit(1);
}
