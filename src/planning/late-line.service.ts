import { setImmediate as othersTurn } from 'node:timers/promises';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { addDays } from '../kernel/measure/day.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { type GivingWay, whatGivesWay } from '../kernel/plan/giving-way.js';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import { comingMonday, planned, proposalFrom } from './planning.service.js';
import { SnapshotService } from './snapshot.service.js';

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

/** A late line with what the items in it are called. */
export type NamedLateLine = LateLine & { names: Record<string, { name: string; measure: Measure }> };

/** Finds what stands in the way of an order line by planning the workshop otherwise. Nothing is kept. */
@Injectable()
export class LateLineService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly snapshots: SnapshotService,
  ) {}

  /** Throws 404 where nothing is left to plan of a line so called. */
  async ask(key: string): Promise<LateLine> {
    const today = await this.clock.today();
    const taken = await this.database.read(async (tx) =>
      this.snapshots.take(tx, today, (await weekShown(tx, today)) ?? comingMonday(today)),
    );
    const { snapshot } = taken;
    const line = snapshot.lines.find((one) => one.key === key);
    if (!line) throw notFound('order line to be planned called', key);
    const planOf = async (otherwise: Snapshot) => {
      // a dozen plans in a row would hold up everybody else
      await othersTurn();
      return otherwise === snapshot ? proposalFrom(taken) : planned(otherwise);
    };
    const way = (await whatGivesWay(snapshot, key, planOf)) ?? null;
    const { item, quantity, shipBy } = line;
    return { line: key, item, quantity, shipBy, today, weekStart: snapshot.weekStart, way };
  }

  /** The same for a page. */
  async named(key: string): Promise<NamedLateLine> {
    const late = await this.ask(key);
    const rows = await this.database.read((tx) =>
      tx.query<{ code: string; name: string; measure: Measure }[]>('select code, name, measure from item'),
    );
    return { ...late, names: Object.fromEntries(rows.map(({ code, ...row }) => [code, row])) };
  }
}

/** The week of the newest plan, as long as it is not over: what people look at. */
async function weekShown(tx: EntityManager, today: string): Promise<string | undefined> {
  const [newest] = await tx.query<{ weekStart: string }[]>(
    `select week_start as "weekStart" from run where status <> 'undone' and week_start > $1 order by id desc limit 1`,
    [addDays(today, -7)],
  );
  return newest?.weekStart;
}
