import { move, transferableSymbol, valueSymbol } from 'piscina';
import { DataSource } from 'typeorm';
import { Database } from '../../platform/database.js';
import { problemOfDatabase } from '../../platform/database-problems.js';
import { DiskSpace } from '../../platform/disk-space.js';
import { type KeyedRequest, keyedRequests } from '../../platform/idempotency.js';
import { poolOptions } from '../../platform/pool-options.js';
import { Problem } from '../../platform/problem.js';
import { Run } from '../planning.entity.js';
import { SnapshotService } from '../snapshot.service.js';
import type { Answered, Asking, Failure, Where } from './message.js';
import type { Means, Question } from './question.js';

/** What a thread does with each question it is sent, one at a time. */
export function answerer(questions: readonly Question<never, unknown>[]): (asking: Asking) => Promise<Answered> {
  const byName = new Map(questions.map((question) => [question.name, question]));
  const means = new MeansOfOne();
  return async ({ where, question, asked, keyed: sent }) => {
    const keyed = sent && keyedRequestOf(sent);
    const done = () => ({ hasActed: keyed?.hasActed ?? false, isHit: keyed?.isHit ?? false });
    try {
      const answer = async () => byName.get(question)!.answer(await means.of(where), asked as never);
      const text = JSON.stringify(await (keyed ? keyedRequests.run(keyed, answer) : answer()));
      // what is encoded lies in memory of its own, which is given away instead of copied
      const json = new TextEncoder().encode(text);
      return move({ [transferableSymbol]: json.buffer, [valueSymbol]: { ...done(), json } }) as unknown as Answered;
    } catch (error) {
      return { ...done(), ...failure(error) };
    }
  };
}

/** Connects when first asked; a database that was away is asked for again next time. Where another is meant, to that one. */
class MeansOfOne {
  private known: { url: string; source: DataSource; means: Means } | undefined;

  async of({ url, disk }: Where): Promise<Means> {
    if (this.known?.url !== url) {
      if (this.known?.source.isInitialized) await this.known.source.destroy();
      // one question at a time, and each does one thing after the other
      const source = new DataSource({ ...poolOptions(url), poolSize: 1, entities: [Run] });
      const means = { database: new Database(source, new DiskSpace(source, disk)), snapshots: new SnapshotService() };
      this.known = { url, source, means };
    }
    const { source, means } = this.known;
    if (!source.isInitialized) await source.initialize();
    return means;
  }
}

function keyedRequestOf({ hash, status, ...sent }: NonNullable<Asking['keyed']>): KeyedRequest & { isHit: boolean } {
  const keyed = {
    ...sent,
    isHit: false,
    hash: () => hash,
    status: () => status,
    onHit: () => void (keyed.isHit = true),
  };
  return keyed;
}

/** Errors lose what they are on the way between threads, so it is said here what one of them means. */
function failure(error: unknown): Failure {
  const problem = error instanceof Problem ? error : problemOfDatabase(error);
  if (problem) {
    const { status, code, message: detail, errors, extra } = problem;
    return { problem: { status, code, detail, errors, extra } };
  }
  return {
    fault: error instanceof Error ? { message: error.message, stack: error.stack } : { message: String(error) },
  };
}
