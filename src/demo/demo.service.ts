import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { WorkshopPut } from '../catalog/workshop.schema.js';
import { putWorkshop } from '../catalog/workshop.service.js';
import { Item } from '../catalog/item.entity.js';
import { Vessel, Workshop } from '../catalog/workshop.entity.js';
import { Channel } from '../orders/orders.entity.js';
import { comingMonday } from '../planning/coming-monday.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import { Supplier } from '../purchasing/purchasing.entity.js';
import { StockService } from '../stock/stock.service.js';
import { loadCatalog } from './load-catalog.js';
import { loadOrders } from './load-orders.js';
import { loadStock } from './load-stock.js';

/** The invented Quarry Lane Workshop, so that a new user sees a plan before typing anything. */
@Injectable()
export class DemoService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
  ) {}

  /**
   * Loads the whole demonstration in one act, if the database was never used; answers whether it did. The same day always
   * gives the same data.
   */
  load(today: string, who: string): Promise<boolean> {
    return this.database.act({ who, why: 'demonstration' }, async (tx) => {
      await tx.query(LOCK);
      if ((await tx.count(Workshop)) > 0 || !(await isEmpty(tx))) return false;
      await this.write(tx, today);
      return true;
    });
  }

  /** Loads it because somebody asked for it: into a workshop that may be named, but holds nothing. Throws a 409 problem. */
  loadAsked(today: string, who: string): Promise<void> {
    return this.database.act({ who, why: 'demonstration' }, async (tx) => {
      await tx.query(LOCK);
      if (!(await isEmpty(tx)))
        throw conflict(
          'not-empty',
          'This workshop holds things of its own, so the demonstration is not put among them.',
        );
      await this.write(tx, today);
    });
  }

  /**
   * Takes the demonstration away, and all that was done in it, and leaves an empty workshop. Throws a 409 problem where
   * the workshop is a real one: the database itself refuses that.
   */
  remove(who: string): Promise<void> {
    return this.database.act({ who, why: 'demonstration removed' }, (tx) => tx.query('select remove_demo()'));
  }

  private async write(tx: EntityManager, today: string): Promise<void> {
    const days = { today, week: comingMonday(today) };
    await putWorkshop(tx, WORKSHOP, true);
    const shelf = await loadCatalog(tx, days);
    await loadStock(tx, this.stock, days, shelf);
    await loadOrders(tx, days, shelf);
  }
}

const LOCK = `select pg_advisory_xact_lock(hashtext('lotwright.demo'))`;

const WORKSHOP: WorkshopPut = {
  name: 'Quarry Lane Workshop',
  timeZone: 'UTC',
  currency: 'EUR',
  units: 'metric',
  benchMinutes: [360, 360, 360, 360, 360, 0, 0],
  slackDays: 1,
  receivingDays: 1,
  scaleStep: '0.1 g',
  scaleLeast: '0.5 g',
};

async function isEmpty(tx: EntityManager): Promise<boolean> {
  for (const table of [Item, Channel, Supplier, Vessel]) if ((await tx.count(table)) > 0) return false;
  return true;
}
