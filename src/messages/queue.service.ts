import { Inject, Injectable, Logger } from '@nestjs/common';
import type { OnApplicationBootstrap, OnModuleDestroy } from '@nestjs/common';
import type { Job, Queue, Worker } from 'bullmq';
import { Redis } from 'ioredis';
import { DataSource } from 'typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { notFound, Problem } from '../platform/problem.js';
import { JOB_NAMES, JOB_OPTIONS } from './jobs.js';
import type { JobData, JobName, NewJob } from './jobs.js';
import { queueBackend } from './queue-backend.js';
import type { QueueBackend } from './queue-backend.js';
import type { FailedJob, QueueState } from './jobs.schema.js';

type Handler = (data: never, job: { isLastTry: boolean }) => Promise<unknown>;

/** Jobs one worker has under way at once; most of the time of each is spent waiting for another server. */
const CONCURRENCY = 8;
/** How long a worker that is told to stop may go on with what it has begun. */
const CLOSE_MS_MAX = 10_000;
/** How long a page waits for a queue before it says that there is none. */
const OPEN_MS_MAX = 3000;
/** An idle worker looks again after so many seconds, should it have missed being woken. */
const IDLE_SECONDS = 30;
const ERRORS_KEPT = 20;
const FAILED_SHOWN = 100;

export const NIGHTLY = { id: 'nightly', pattern: '10 4 * * *' };

/** The queue and, in a process that works it, the worker. Only here is a queue asked anything. */
@Injectable()
export class QueueService implements OnApplicationBootstrap, OnModuleDestroy {
  private readonly logger = new Logger('queue');
  private readonly handlers = new Map<JobName, Handler>();
  private readonly errors: { at: string; error: string }[] = [];
  private backend: QueueBackend | undefined;
  private opened: Promise<Queue> | undefined;
  private worker: Worker | undefined;

  constructor(
    private readonly dataSource: DataSource,
    @Inject(CONFIG) private readonly config: Config,
  ) {}

  /** Says who does what a job of this name asks. Said while modules are made; a second one for a name is refused. */
  handle<Name extends JobName>(
    name: Name,
    handler: (data: JobData[Name], job: { isLastTry: boolean }) => Promise<unknown>,
  ): void {
    if (this.handlers.has(name)) throw new Error(`two handlers for jobs called ${name}`);
    this.handlers.set(name, handler);
  }

  /** Refuses to start where a job would find nobody, then starts the worker if this process has one. */
  async onApplicationBootstrap(): Promise<void> {
    const missing = JOB_NAMES.filter((name) => !this.handlers.has(name));
    if (missing.length > 0) throw new Error(`no handler for jobs called ${missing.join(', ')}`);
    if (this.config.worker !== 'here') return;
    const place = await this.place();
    this.worker = place.worker((job) => this.work(job), {
      concurrency: CONCURRENCY,
      drainDelay: IDLE_SECONDS,
      maxStalledCount: 3,
    });
    this.worker.on('error', (error) => this.note(error));
    await this.warnOfEviction();
  }

  /** Before any connection of the database is closed: what is under way may still need it. */
  async onModuleDestroy(): Promise<void> {
    if (this.worker) await closed(this.worker);
    const queue = await this.opened?.catch(() => undefined);
    await Promise.race([queue?.close(), pause(CLOSE_MS_MAX)]);
  }

  /**
   * Puts jobs into the queue. Never inside an open transaction: a worker would find nothing yet. Throws a 503 problem when
   * the queue is away.
   */
  async add(jobs: readonly NewJob[]): Promise<void> {
    const bulk = jobs.map(({ name, data, options }) => ({ name, data, opts: { ...JOB_OPTIONS[name], ...options } }));
    await orAway(this.queue().then((queue) => queue.addBulk(bulk)));
  }

  /** Looks each night, by the workshop's clock. Said again when the queue was emptied or the zone changed. */
  async keepNightly(timeZone: string): Promise<void> {
    const queue = await this.queue();
    const known = await queue.getJobScheduler(NIGHTLY.id);
    if (known?.pattern === NIGHTLY.pattern && known.tz === timeZone) return;
    await queue.upsertJobScheduler(
      NIGHTLY.id,
      { pattern: NIGHTLY.pattern, tz: timeZone },
      { name: 'sweep', data: { because: 'day' }, opts: JOB_OPTIONS.sweep },
    );
  }

  /** What lies in the queue and what went wrong. A queue that cannot be reached is no error here but an answer. */
  async state(): Promise<QueueState> {
    const { kind } = await this.place();
    try {
      const queue = await this.queue();
      const counts = await queue.getJobCounts('waiting', 'active', 'delayed', 'completed', 'failed', 'prioritized');
      const [workers, nightly, failed] = await Promise.all([
        queue.getWorkersCount(),
        queue.getJobScheduler(NIGHTLY.id),
        queue.getFailed(0, FAILED_SHOWN - 1),
      ]);
      return {
        kind,
        reached: true,
        workers,
        waiting: (counts['waiting'] ?? 0) + (counts['prioritized'] ?? 0),
        active: counts['active'] ?? 0,
        delayed: counts['delayed'] ?? 0,
        completed: counts['completed'] ?? 0,
        failed: counts['failed'] ?? 0,
        nightlyAt: nightly?.next === undefined ? null : new Date(nightly.next).toISOString(),
        failedJobs: failed.flatMap((job) => (job ? [failedJobOf(job)] : [])),
        errors: this.errors,
      };
    } catch (error) {
      this.note(error as Error);
      const none = { workers: 0, waiting: 0, active: 0, delayed: 0, completed: 0, failed: 0 };
      return { kind, reached: false, ...none, nightlyAt: null, failedJobs: [], errors: this.errors };
    }
  }

  /** Has a job that failed for good done again. Throws 404, and 503 when the queue is away. */
  async retry(id: string): Promise<void> {
    const job: Job | undefined = await orAway(this.queue().then((queue) => queue.getJob(id)));
    if (!job || !(await job.isFailed())) throw notFound('failed job', id);
    await job.retry('failed', { resetAttemptsMade: true, resetAttemptsStarted: true });
  }

  /** The queue, connected when somebody first asks; one that failed to be is made anew the next time. */
  private queue(): Promise<Queue> {
    this.opened ??= this.open().catch((error: unknown) => {
      this.opened = undefined;
      throw error;
    });
    return this.opened;
  }

  private async open(): Promise<Queue> {
    const queue = (await this.place()).queue();
    queue.on('error', (error) => this.note(error));
    try {
      await within(queue.waitUntilReady(), OPEN_MS_MAX);
      return queue;
    } catch (error) {
      void queue.close().catch(() => {});
      throw error;
    }
  }

  private async place(): Promise<QueueBackend> {
    if (this.backend) return this.backend;
    const { redisUrl } = this.config;
    const { extra } = this.dataSource.options as unknown as { extra: { connectionString: string } };
    // which database this is, wherever it was restored from: two that share a Redis never see each other's jobs
    const [row] = await this.dataSource.query<{ self: string }[]>(
      `select left(md5(concat((select system_identifier from pg_control_system()), '/', oid, '/', datname)), 12) as self
       from pg_database where datname = current_database()`,
    );
    return (this.backend ??= queueBackend({
      redisUrl,
      databaseUrl: extra.connectionString,
      prefix: `lotwright-${row!.self}`,
    }));
  }

  private async work(job: Job): Promise<unknown> {
    const handler = this.handlers.get(job.name as JobName);
    if (!handler) throw new Error(`no handler for a job called ${job.name}`);
    return handler(job.data as never, { isLastTry: job.attemptsMade + 1 >= (job.opts.attempts ?? 1) });
  }

  private note(error: Error): void {
    const text = error.message || error.name;
    if (this.errors[0]?.error === text) this.errors[0].at = new Date().toISOString();
    else {
      this.logger.warn(text);
      this.errors.unshift({ at: new Date().toISOString(), error: text });
      this.errors.length = Math.min(this.errors.length, ERRORS_KEPT);
    }
  }

  /** A Redis that throws keys away when it is full would throw jobs away. The outbox would offer them again, but late. */
  private async warnOfEviction(): Promise<void> {
    if (this.config.redisUrl === undefined) return;
    const redis = new Redis(this.config.redisUrl, { lazyConnect: true, maxRetriesPerRequest: 1, retryStrategy: null });
    redis.on('error', (error: Error) => this.note(error));
    try {
      await redis.connect();
      const policy = /^maxmemory_policy:(\S+)/m.exec(await redis.info('memory'))?.[1];
      if (policy !== undefined && policy !== 'noeviction')
        this.logger.warn(
          `Redis may throw jobs away when it is full: set maxmemory-policy noeviction (it is ${policy}).`,
        );
    } catch (error) {
      this.note(error as Error);
    } finally {
      redis.disconnect();
    }
  }
}

const failedJobOf = (job: Job): FailedJob => ({
  id: job.id ?? '',
  name: job.name,
  tries: job.attemptsMade,
  failedAt: new Date(job.finishedOn ?? job.timestamp).toISOString(),
  error: job.failedReason ?? '',
});

/** What a person can be told where the queue does not answer. */
async function orAway<T>(work: Promise<T>): Promise<T> {
  try {
    return await work;
  } catch (error) {
    const detail = `The jobs cannot be reached now: ${(error as Error).message || 'no answer'}. Try again later.`;
    throw new Problem({ status: 503, code: 'queue-away', detail });
  }
}

const pause = (ms: number): Promise<void> => new Promise((resolve) => void setTimeout(resolve, ms).unref());

async function within<T>(work: Promise<T>, msMax: number): Promise<T> {
  const late = pause(msMax).then(() => {
    throw new Error(`The queue was not reached within ${msMax / 1000} seconds.`);
  });
  return Promise.race([work, late]);
}

/** Lets what is under way end, and breaks it off where that takes too long: it will be offered again. */
async function closed(worker: Worker): Promise<void> {
  const ended = worker.close().then(() => true);
  if (await Promise.race([ended, pause(CLOSE_MS_MAX)])) return;
  await Promise.race([worker.close(true), pause(CLOSE_MS_MAX)]);
}
