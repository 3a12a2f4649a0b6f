import { setTimeout as pause } from 'node:timers/promises';
import { Client } from 'pg';
import type { TestApp } from './app.js';

/** Somebody else's connection, whose transaction stands still where a test wants it to. */
export interface Other {
  query(sql: string, values?: unknown[]): Promise<unknown>;
  /** Resolves once so many of the application's own acts wait for a lock that somebody holds. */
  waiting(count: number): Promise<void>;
  /**
   * Does `first` and keeps its transaction open; `then` is asked of the service and has to wait; the other ends as told,
   * and the service's answer is returned.
   */
  meeting<T>(first: string, values: unknown[], then: () => Promise<T>, end?: 'commit' | 'rollback'): Promise<T>;
  end(): Promise<void>;
}

const TRIES = 500;
const BETWEEN_TRIES_MS = 10;

export async function otherConnection(app: TestApp): Promise<Other> {
  const client = new Client({ connectionString: app.database.ownerUrl, options: '-c lotwright.who=other' });
  await client.connect();
  const waiting = async (count: number): Promise<void> => {
    for (let tries = 0; tries < TRIES; tries++) {
      const [row] = await app.database.query<{ waiting: number }>(
        `select count(*)::int as waiting from pg_stat_activity
         where datname = current_database() and application_name = 'lotwright' and wait_event_type = 'Lock'`,
      );
      if (row!.waiting === count) return;
      await pause(BETWEEN_TRIES_MS);
    }
    throw new Error(`never were there ${count} acts waiting`);
  };
  return {
    query: (sql, values) => client.query(sql, values),
    waiting,
    async meeting(first, values, then, end = 'commit') {
      await client.query('begin');
      await client.query(first, values);
      const answer = then();
      try {
        await waiting(1);
      } finally {
        await client.query(end);
      }
      return answer;
    },
    end: () => client.end(),
  };
}
