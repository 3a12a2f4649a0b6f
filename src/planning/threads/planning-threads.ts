import { join } from 'node:path';
import { Inject, Injectable, Logger, type OnApplicationShutdown } from '@nestjs/common';
import type { Piscina } from 'piscina';
import { CONFIG, type Config } from '../../config.js';
import { DATABASE_URL } from '../../platform/database-url.js';
import { keyedRequests } from '../../platform/idempotency.js';
import { Problem } from '../../platform/problem.js';
import { PROJECT_FOLDER } from '../../platform/project-folder.js';
import type { Answered, Asking, Where } from './message.js';
import type { Question } from './question.js';
import { Turns } from './turns.js';

/** A thread runs what is built, also where the rest runs from its sources: Node reads no TypeScript. */
const PROGRAM = join(PROJECT_FOLDER, 'dist/src/planner.js');

/** One for who plans, one more for who asks meanwhile. */
const THREADS_MAX = 2;
/** A thread that plans knows the last plans it made; one that nobody asks for so long costs memory for nothing. */
const IDLE_MS_MAX = 5 * 60_000;
/** A plan is so many steps at most, so this ends only what is broken: ten times what planning 10,000 lines anew takes. */
const ANSWER_MS_MAX = 10 * 60_000;

/**
 * The threads that plan, so that a plan of thousands of lines holds nobody up. They start when they are first asked, and each
 * has a connection of its own.
 */
@Injectable()
export class PlanningThreads implements OnApplicationShutdown {
  private readonly logger = new Logger('planning');
  private readonly turns = new Turns(THREADS_MAX);
  private pool: Promise<Piscina> | undefined;
  private isOver = false;
  private readonly where: Where;

  constructor(@Inject(CONFIG) { home, databaseUrl }: Config, @Inject(DATABASE_URL) url: string) {
    this.where = { url, disk: { home, databaseUrl } };
  }

  /** Throws what the answer throws, and a 503 `cannot-plan-now` problem where there is none. */
  async ask<Asked, Answer>(question: Question<Asked, Answer>, asked: Asked): Promise<Answer> {
    return JSON.parse((await this.json(question, asked)).toString()) as Answer;
  }

  /** The same as the text of its JSON, which can be megabytes that only go on to whoever asked. */
  async json<Asked>(question: Question<Asked, unknown>, asked: Asked): Promise<Buffer> {
    const request = keyedRequests.getStore();
    const keyed = request && {
      who: request.who,
      route: request.route,
      key: request.key,
      hasActed: request.hasActed,
      hash: request.hash(),
      status: request.status(),
    };
    const answered = await this.turns.take(() =>
      this.send({ where: this.where, question: question.name, asked, keyed }),
    );
    if (request && answered.hasActed) request.hasActed = true;
    if (answered.isHit) request?.onHit();
    if ('json' in answered) return bytesOf(answered.json);
    if ('problem' in answered) throw new Problem(answered.problem);
    throw Object.assign(new Error(answered.fault.message), { stack: answered.fault.stack });
  }

  async onApplicationShutdown(): Promise<void> {
    this.isOver = true;
    await (await this.pool)?.destroy();
  }

  private async send(asking: Asking): Promise<Answered> {
    const signal = AbortSignal.timeout(ANSWER_MS_MAX);
    try {
      if (this.isOver) throw new Error('the application is closed');
      const pool = await (this.pool ??= this.start());
      return (await pool.run(asking, { signal })) as Answered;
    } catch (error) {
      if (!this.isOver)
        this.logger.error(`${asking.question}: ${error instanceof Error ? error.stack : String(error)}`);
      const why = signal.aborted ? 'It took too long' : 'What was planning it has stopped';
      const detail = `${why}, so there is no plan just now. Try again.`;
      throw new Problem({ status: 503, code: 'cannot-plan-now', detail });
    }
  }

  /** Loaded only now, since a start has no use for it. */
  private async start(): Promise<Piscina> {
    const { Piscina: Pool } = await import('piscina');
    const pool = new Pool({
      filename: PROGRAM,
      minThreads: 0,
      maxThreads: THREADS_MAX,
      idleTimeout: IDLE_MS_MAX,
      // a thread that waits must hear that its connection is gone
      atomics: 'disabled',
      execArgv: [],
    });
    // one that cannot even start, or breaks while nobody asks: whoever waits for it is told, and the next asks others
    pool.on('error', (error) => {
      this.logger.error(error instanceof Error ? error.stack : String(error));
      this.pool = undefined;
      void pool.destroy();
    });
    return pool;
  }
}

const bytesOf = ({ buffer, byteOffset, length }: Uint8Array): Buffer => Buffer.from(buffer, byteOffset, length);
