import { Injectable } from '@nestjs/common';
import { DataSource, QueryFailedError } from 'typeorm';
import type { EntityManager } from 'typeorm';
import { keyedRequests, once } from './idempotency.js';
import { conflict } from './problem.js';

/** Serialization failure and deadlock: PostgreSQL asks the caller to run the whole act again. */
const RETRIED = new Set(['40001', '40P01']);
const TRIES_MAX = 5;
const PAUSE_MS = 20;

/** The SQLSTATE of an error the database raised, or undefined for any other error. */
export function sqlStateOf(error: unknown): string | undefined {
  const cause = error instanceof QueryFailedError ? (error.driverError as unknown) : error;
  if (!(cause instanceof Error) || !('code' in cause) || typeof cause.code !== 'string') return undefined;
  return /^[0-9A-Z]{5}$/.test(cause.code) ? cause.code : undefined;
}

/** The two ways to the database: an act that changes something, and a look that sees one moment. */
@Injectable()
export class Database {
  constructor(private readonly dataSource: DataSource) {}

  /**
   * One act in one READ COMMITTED transaction. `by` is written into every row that records an act. `work` may run up to
   * five times when the database reports a serialization failure or a deadlock, so it must do nothing but use `tx`;
   * after that a 409 `try-again` problem is thrown. On behalf of a request with a key the act is done once, and answered
   * again as `once` says.
   */
  async act<T>(by: { who: string; why?: string }, work: (tx: EntityManager) => Promise<T>): Promise<T> {
    const keyed = keyedRequests.getStore();
    if (keyed?.hasActed) throw new Error('a request with a key does one act, since one answer is kept for it');
    if (keyed) keyed.hasActed = true;
    return this.retried(() =>
      this.dataSource.transaction('READ COMMITTED', async (tx) => {
        await tx.query(`select set_config('lotwright.who', $1, true), set_config('lotwright.why', $2, true)`, [
          by.who,
          by.why ?? '',
        ]);
        return keyed ? once(tx, keyed, work) : work(tx);
      }),
    );
  }

  /** Reads in one snapshot: everything `work` sees is from the same moment, and nothing can be changed. */
  read<T>(work: (tx: EntityManager) => Promise<T>): Promise<T> {
    return this.retried(() =>
      this.dataSource.transaction('REPEATABLE READ', async (tx) => {
        await tx.query('set transaction read only');
        return work(tx);
      }),
    );
  }

  private async retried<T>(attempt: () => Promise<T>): Promise<T> {
    for (let tries = 1; ; tries++) {
      try {
        return await attempt();
      } catch (error) {
        if (!RETRIED.has(sqlStateOf(error) ?? '')) throw error;
        if (tries === TRIES_MAX) throw conflict('try-again', 'Others changed the same things at once. Try again.');
        // jittered, so that two acts that met once do not meet again
        const pauseMs = PAUSE_MS * 2 ** tries * (0.5 + Math.random());
        await new Promise((resolve) => setTimeout(resolve, pauseMs));
      }
    }
  }
}
