import type { EntityManager } from 'typeorm';
import { addDays } from '../kernel/measure/day.js';
import { type GivingWay, whatGivesWay } from '../kernel/plan/giving-way.js';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { notFound } from '../platform/problem.js';
import { comingMonday } from './coming-monday.js';
import { planned, proposalFrom } from './proposals.js';
import type { Means, Question } from './threads/question.js';

/** An order line, and what stands in its way as everything is now. Quantities in the item's base unit. */
export interface LateLine {
  line: string;
  item: string;
  /** What of it no lots are set aside for. */
  quantity: number;
  shipBy: string;
  today: string;
  weekStart: string;
  /** Null where it is in time and covered now, whatever an older plan says. */
  way: GivingWay | null;
}

interface Asked {
  key: string;
  today: string;
}

/** What stands in the way of an order line. Nothing is kept. */
export const LATE_LINE: Question<Asked, LateLine> = { name: 'late line', answer: askLateLine };

async function askLateLine({ database, snapshots }: Means, { key, today }: Asked): Promise<LateLine> {
  const taken = await database.read(async (tx) =>
    snapshots.take(tx, today, (await weekShown(tx, today)) ?? comingMonday(today)),
  );
  const { snapshot } = taken;
  const line = snapshot.lines.find((one) => one.key === key);
  if (!line) throw notFound('order line to be planned called', key);
  const planOf = (otherwise: Snapshot) => (otherwise === snapshot ? proposalFrom(taken) : planned(otherwise));
  const way = whatGivesWay(snapshot, key, planOf) ?? null;
  const { item, quantity, shipBy } = line;
  return { line: key, item, quantity, shipBy, today, weekStart: snapshot.weekStart, way };
}

/** The week of the newest plan, as long as it is not over: what people look at. */
async function weekShown(tx: EntityManager, today: string): Promise<string | undefined> {
  const [newest] = await tx.query<{ weekStart: string }[]>(
    `select week_start as "weekStart" from run where status <> 'undone' and week_start > $1 order by id desc limit 1`,
    [addDays(today, -7)],
  );
  return newest?.weekStart;
}
