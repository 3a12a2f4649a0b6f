import { Injectable } from '@nestjs/common';
import { Clock } from '../platform/clock.js';
import { COMMIT } from './commit.js';
import type { Committed } from './planning.schema.js';
import { PlanningThreads } from './threads/planning-threads.js';

/** Turns a draft into batches with their lots reserved: all of it or nothing. */
@Injectable()
export class CommitService {
  constructor(
    private readonly clock: Clock,
    private readonly threads: PlanningThreads,
  ) {}

  /**
   * Commits a draft: writes the week's batches that lack nothing, reserves what they take, and sets finished goods aside
   * for the orders that ship by the end of the week. Where anything it was planned from has changed, it is planned again
   * in the same act if `replan` says so, and refused otherwise: 409 `stale`, with what changed.
   */
  async commit(who: string, runId: number, replan = false): Promise<Committed> {
    return this.threads.ask(COMMIT, { who, today: await this.clock.today(), runId, replan });
  }
}
