import { Injectable, Optional } from '@nestjs/common';
import type { ClientBase } from 'pg';
import { DataSource, QueryRunnerAlreadyReleasedError } from 'typeorm';
import type { EntityManager } from 'typeorm';
import { DiskSpace } from './disk-space.js';
import { keyedRequests, once } from './idempotency.js';
import { conflict } from './problem.js';
import { sqlStateOf } from './sql-state.js';

/** Serialization failure and deadlock: PostgreSQL asks the caller to run the whole act again. */
const RETRIED = new Set(['40001', '40P01']);
const TRIES_MAX = 5;
const PAUSE_MS = 20;

/** The two ways to the database: an act that changes something, and a look that sees one moment. */
@Injectable()
export class Database {
  constructor(
    private readonly dataSource: DataSource,
    @Optional() private readonly disk?: DiskSpace,
  ) {}

  /**
   * One act in one READ COMMITTED transaction. `by` is written into every row that records an act. `work` may run up to
   * five times when the database reports a serialization failure or a deadlock, so it must do nothing but use `tx`;
   * after that a 409 `try-again` problem is thrown. On behalf of a request with a key the act is done once, and answered
   * again as `once` says. Throws 507 `disk-full` where there is no room to write.
   */
  async act<T>(by: { who: string; why?: string }, work: (tx: EntityManager) => Promise<T>): Promise<T> {
    await this.disk?.demand();
    const keyed = keyedRequests.getStore();
    if (keyed?.hasActed) throw new Error('a request with a key does one act, since one answer is kept for it');
    if (keyed) keyed.hasActed = true;
    const begin = `start transaction isolation level read committed;
      select set_config('lotwright.who', ${literal(by.who)}, true), set_config('lotwright.why', ${literal(by.why ?? '')}, true)`;
    return this.retried(() => this.transaction(begin, (tx) => (keyed ? once(tx, keyed, work) : work(tx))));
  }

  /** Reads in one snapshot: everything `work` sees is from the same moment, and nothing can be changed. */
  read<T>(work: (tx: EntityManager) => Promise<T>): Promise<T> {
    return this.retried(() =>
      this.transaction('start transaction isolation level repeatable read, read only', (tx) => work(tx)),
    );
  }

  /**
   * `begin` is sent as one message, where the library would send two or three and wait for each: of a short act, such as
   * setting something aside, that is a fifth of the time.
   */
  private async transaction<T>(begin: string, work: (tx: EntityManager) => Promise<T>): Promise<T> {
    const runner = this.dataSource.createQueryRunner();
    try {
      await runner.query(begin);
      // the library did not see the transaction begin: told of it, it lets a find lock its rows, which it refuses outside of
      // one, and opens none of its own around what it saves; and nobody is to begin one inside this
      Object.assign(runner, { isTransactionActive: true, startTransaction: refuseAnother });
      const answer = await work(runner.manager);
      await runner.query('commit');
      return answer;
    } catch (error) {
      // what is told is why it broke; where the way back is broken too, the connection is gone and so is the transaction
      await runner.query('rollback').catch(() => {});
      throw error;
    } finally {
      await runner.release();
    }
  }

  private async retried<T>(attempt: () => Promise<T>): Promise<T> {
    for (let tries = 1; ; tries++) {
      try {
        return await attempt();
      } catch (error) {
        this.disk?.note(error);
        if (!RETRIED.has(sqlStateOf(error) ?? '')) throw error;
        if (tries === TRIES_MAX) throw conflict('try-again', 'Others changed the same things at once. Try again.');
        // jittered, so that two acts that met once do not meet again
        const pauseMs = PAUSE_MS * 2 ** tries * (0.5 + Math.random());
        await new Promise((resolve) => setTimeout(resolve, pauseMs));
      }
    }
  }
}

const refuseAnother = () => Promise.reject(new Error('An act is one transaction: no other begins inside it.'));

/** Any text as SQL, whatever it holds: in hexadecimal there is nothing to escape. */
function literal(text: string): string {
  return `convert_from('\\x${Buffer.from(text).toString('hex')}', 'UTF8')`;
}

/**
 * Runs a statement that each connection plans once and then remembers by its name: for one that runs often and takes
 * longer to plan than to run. A name stands for one statement only.
 */
export async function prepared<Row>(
  tx: EntityManager,
  statement: { name: string; text: string },
  values: unknown[],
): Promise<Row[]> {
  // a released runner would go and get another connection, which knows nothing of this act
  if (!tx.queryRunner || tx.queryRunner.isReleased) throw new QueryRunnerAlreadyReleasedError();
  const client = (await tx.queryRunner.connect()) as ClientBase;
  return (await client.query({ ...statement, values })).rows as Row[];
}
