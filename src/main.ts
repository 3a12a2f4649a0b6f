import { createServer } from 'node:net';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { readConfig } from './config.js';
import type { Config } from './config.js';
import { Problem } from './platform/problem.js';
import { sayWhy, StartProblem } from './platform/start-problem.js';
import { outliveCutConnections, stopSignal, withinTime } from './platform/stopping.js';

/** The database first, then the application on it, then the doors; and all of it back in the opposite order. */
async function main(): Promise<void> {
  const config = readConfig(process.env);
  const stopping = stopSignal();
  await refuseTakenPort(config);
  // loaded only now, so that a start that cannot be is refused at once
  const { openDatabase } = await import('./platform/open-database.js');
  const database = await openDatabase(config, { serves: true });
  let app: NestFastifyApplication | undefined;
  try {
    for (const line of database.notes) console.error(line);
    const { makeApplication } = await import('./application.js');
    app = await makeApplication(config, database.url, { worksJobs: true });
    const { loadDemoIfEmpty, problemText, weekPlan } = await import('./terminal.js');
    await loadDemoIfEmpty(app, config);
    await listen(app, config);
    console.log(`Lotwright serves on ${addressOf(app, config)} (Ctrl-C stops it)\n`);
    const ending = Promise.race([stopping, database.lost.then((lost) => ({ lost }))]);
    // whoever opens the address need not wait for it, and what cannot be planned keeps nobody out
    const planned = weekPlan(app).catch((error: unknown) => (error instanceof Problem ? problemText(error) : error));
    const text = await Promise.race([planned, ending.then(() => null)]);
    if (text !== null) console.log(text);
    const why = await ending;
    if (why !== 'asked') throw new StartProblem(why.lost);
  } finally {
    await withinTime(app?.close());
    await database.close();
  }
}

/** Asked before the database is started, so that the usual mistake, a second start, costs nothing. */
async function refuseTakenPort({ port, host }: Config): Promise<void> {
  const probe = createServer();
  await new Promise<void>((resolve, reject) => {
    probe.once('error', (error) => reject(portProblem(error, { port, host })));
    probe.listen(port, host, () => probe.close(() => resolve()));
  });
}

async function listen(app: NestFastifyApplication, config: Config): Promise<void> {
  try {
    await app.listen(config.port, config.host);
  } catch (error) {
    throw portProblem(error, config);
  }
}

function portProblem(error: unknown, { port, host }: Pick<Config, 'port' | 'host'>): unknown {
  const code = error instanceof Error && 'code' in error ? error.code : undefined;
  if (code === 'EADDRINUSE')
    return new StartProblem(`Port ${port} is in use. Choose another, for example PORT=${port + 1}.`);
  if (code === 'EACCES') return new StartProblem(`Port ${port} needs more rights. Choose another with PORT.`);
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND')
    return new StartProblem(`There is no address ${host} here (HOST).`);
  return error;
}

function addressOf(app: NestFastifyApplication, { host }: Config): string {
  const { port } = app.getHttpServer().address() as { port: number };
  const isLoopback = host === '127.0.0.1' || host === '::1';
  return `http://${isLoopback ? 'localhost' : host.includes(':') ? `[${host}]` : host}:${port}`;
}

outliveCutConnections();

try {
  await main();
  process.exit(0);
} catch (error) {
  sayWhy(error instanceof Problem ? error.message : error);
  process.exit(1);
}
