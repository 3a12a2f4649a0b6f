import { Injectable } from '@nestjs/common';
import { addDays } from '../kernel/measure/day.js';
import type { Proposal } from '../kernel/plan/proposal.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import { comingMonday } from './coming-monday.js';
import { DRAFT } from './draft.js';
import { Run } from './planning.entity.js';
import type { RunSummary, RunView } from './planning.schema.js';
import { findRun, summaryOf, viewOf } from './runs.js';
import { PlanningThreads } from './threads/planning-threads.js';

/** How far ahead a week may be planned. */
const WEEKS_AHEAD_MAX = 52;

/** Makes the week's plan as a draft, and shows what was planned. */
@Injectable()
export class PlanningService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly threads: PlanningThreads,
  ) {}

  /**
   * Plans the seven days from `weekStart` and keeps the proposal as a draft. Nothing is reserved. Where nothing has
   * changed since the last draft of that week, that one is answered: a RunView as JSON, which can be megabytes.
   */
  async makeDraft(who: string, weekStart?: string): Promise<Buffer> {
    const today = await this.clock.today();
    const start = weekStart ?? comingMonday(today);
    if (start < addDays(today, -6)) throw invalid('/weekStart', `The week from ${start} is over.`);
    if (start > addDays(today, 7 * WEEKS_AHEAD_MAX))
      throw invalid('/weekStart', `A week can be planned up to ${WEEKS_AHEAD_MAX} weeks ahead.`);
    return this.threads.json(DRAFT, { who, today, start });
  }

  async list(): Promise<{ runs: RunSummary[] }> {
    const runs = await this.database.read((tx) => tx.find(Run, { order: { id: 'DESC' }, take: 200 }));
    return { runs: runs.map(summaryOf) };
  }

  async get(id: number): Promise<RunView> {
    return this.database.read(async (tx) => viewOf(await findRun(tx, id)));
  }

  async needs(id: number): Promise<Pick<Proposal, 'needs'>> {
    return { needs: (await this.get(id)).proposal.needs };
  }

  async shortfalls(id: number): Promise<Pick<Proposal, 'shortfalls'>> {
    return { shortfalls: (await this.get(id)).proposal.shortfalls };
  }

  async atRisk(id: number): Promise<Pick<Proposal, 'atRisk'>> {
    return { atRisk: (await this.get(id)).proposal.atRisk };
  }

  /** Throws away a draft. A committed run is not deleted: it happened. */
  discard(who: string, id: number): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const run = await findRun(tx, id, true);
      if (run.status !== 'draft')
        throw conflict('not-a-draft', `The plan ${id} is ${run.status}, only a draft can go.`);
      await tx.query('delete from run where id = $1', [id]);
    });
  }
}
