import { keepCovers } from './line-covers.js';
import type { RunView } from './planning.schema.js';
import { proposalFrom } from './proposals.js';
import { findRun, viewOf } from './runs.js';
import type { Means, Question } from './threads/question.js';

interface Asked {
  who: string;
  today: string;
  /** The first day of the week. */
  start: string;
}

/** The week's plan as a draft, kept; the last draft where nothing has changed since. */
export const DRAFT: Question<Asked, RunView> = { name: 'draft', answer: makeDraft };

async function makeDraft({ database, snapshots }: Means, { who, today, start }: Asked): Promise<RunView> {
  const taken = await database.read((tx) => snapshots.take(tx, today, start));
  const { snapshot, hash, ids } = taken;
  return database.act({ who }, async (tx) => {
    // an older draft is not what the week shows, even where all is again as it was then
    const [last] = await tx.query<{ id: number; isSame: boolean }[]>(
      `select id, status = 'draft' and snapshot_hash = $2 as "isSame" from run
       where week_start = $1 and status <> 'undone' order by id desc limit 1`,
      [start, hash],
    );
    if (last?.isSame) return viewOf(await findRun(tx, last.id));
    const proposal = proposalFrom(taken);
    const rows = await tx.query<{ id: number }[]>(
      `insert into run (week_start, planned_on, status, snapshot_hash, snapshot, proposal)
       values ($1, $2, 'draft', $3, $4, $5) returning id`,
      [start, today, hash, JSON.stringify(snapshot), JSON.stringify(proposal)],
    );
    await keepCovers(tx, rows[0]!.id, proposal, ids.lines);
    return viewOf(await findRun(tx, rows[0]!.id));
  });
}
