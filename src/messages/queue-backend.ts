import { setImmediate as othersTurn } from 'node:timers/promises';
import { createPostgresBackend, Queue, withBackend, Worker } from 'bullmq';
import type { Processor, QueueOptions, WorkerOptions } from 'bullmq';
import { HeardClient } from '../platform/pool-options.js';
import { QUEUE_SCHEMA } from '../platform/queue-schema.js';

/** Not what the connections of the server are called: workers are counted by the names of theirs. */
export const QUEUE_NAME = 'lotwright-jobs';

/** Where the jobs lie, and how a queue and a worker on them are made. */
export interface QueueBackend {
  kind: 'redis' | 'postgres';
  queue(options?: Omit<QueueOptions, 'connection'>): Queue;
  worker(processor: Processor, options: Omit<WorkerOptions, 'connection'>): Worker;
}

const CONNECT_MS_MAX = 10_000;

/**
 * The one place that chooses: on Redis where there is one, else in the database the application serves from. `prefix`
 * keeps workshops apart that share a Redis.
 */
export function queueBackend(place: { redisUrl?: string; databaseUrl: string; prefix: string }): QueueBackend {
  return place.redisUrl === undefined ? onPostgres(place.databaseUrl) : onRedis(place.redisUrl, place.prefix);
}

function onRedis(url: string, prefix: string): QueueBackend {
  const shared = { url, connectTimeout: CONNECT_MS_MAX };
  return {
    kind: 'redis',
    // a page that asks fails at once where Redis is away; a worker waits until it is back
    queue: (options) =>
      new Queue(QUEUE_NAME, {
        ...options,
        prefix,
        connection: { ...shared, enableOfflineQueue: false, maxRetriesPerRequest: 1 },
      }),
    worker: (processor, options) =>
      new Worker(QUEUE_NAME, processor, { ...options, prefix, connection: { ...shared, maxRetriesPerRequest: null } }),
  };
}

function onPostgres(databaseUrl: string): QueueBackend {
  const made = withBackend(createPostgresBackend);
  // what a URL says of options stands before what is said beside it, so the schema is said in the URL too
  const url = new URL(databaseUrl);
  const options = [url.searchParams.get('options'), `-c search_path=${QUEUE_SCHEMA}`];
  url.searchParams.set('options', options.filter(Boolean).join(' '));
  const connection = (max: number) => ({
    connectionString: url.href,
    schema: QUEUE_SCHEMA,
    max,
    connectionTimeoutMillis: CONNECT_MS_MAX,
    Client: HeardClient,
  });
  return {
    kind: 'postgres',
    queue: (more) => new made.Queue(QUEUE_NAME, { ...more, connection: connection(2) }) as unknown as Queue,
    worker: (processor, more) =>
      yielding(new made.Worker(QUEUE_NAME, processor, { ...more, connection: connection(4) }) as unknown as Worker),
  };
}

/** What a worker of the library calls its own look for the next job. */
const LOOK = '_getNextJob';

/**
 * Where the database is cut off, the library can look for a job again and again without waiting for anything, and then the
 * process hears nothing any more, not even that its database is gone. After each look that found none others have a turn.
 */
function yielding(worker: Worker): Worker {
  const looker = worker as unknown as Record<typeof LOOK, (...how: unknown[]) => Promise<unknown>>;
  const look = looker[LOOK].bind(worker);
  looker[LOOK] = async (...how) => {
    let job: unknown;
    try {
      job = await look(...how);
    } finally {
      if (job === undefined) await othersTurn();
    }
    return job;
  };
  return worker;
}
