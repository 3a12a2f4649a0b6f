import { Injectable } from '@nestjs/common';
import type { Measure } from '../kernel/measure/quantity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { LATE_LINE, type LateLine } from './late-line.js';
import { PlanningThreads } from './threads/planning-threads.js';
import { Turns } from './threads/turns.js';

/** A late line with what the items in it are called. */
export type NamedLateLine = LateLine & { names: Record<string, { name: string; measure: Measure }> };

/** Finds what stands in the way of an order line by planning the workshop otherwise. Nothing is kept. */
@Injectable()
export class LateLineService {
  /** A dozen plans each: whoever plans a week does not wait for more than one of them. */
  private readonly turns = new Turns(1);

  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly threads: PlanningThreads,
  ) {}

  /** Throws 404 where nothing is left to plan of a line so called. */
  async ask(key: string): Promise<LateLine> {
    const today = await this.clock.today();
    return this.turns.take(() => this.threads.ask(LATE_LINE, { key, today }));
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
