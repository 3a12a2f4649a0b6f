import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { putWorkshop } from '../catalog/workshop.service.js';
import { Item } from '../catalog/item.entity.js';
import { Workshop } from '../catalog/workshop.entity.js';
import { Channel } from '../orders/orders.entity.js';
import { comingMonday } from '../planning/planning.service.js';
import { Database } from '../platform/database.js';
import { StockService } from '../stock/stock.service.js';
import { loadCatalog } from './load-catalog.js';
import { loadOrders } from './load-orders.js';
import { loadStock } from './load-stock.js';

/** The two days everything else is counted from. */
export interface DemoDays {
  today: string;
  /** First day of the week that is planned by default. */
  week: string;
}

/** The invented Quarry Lane Workshop, so that a new user sees a plan before typing anything. */
@Injectable()
export class DemoService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
  ) {}

  /**
   * Loads the whole demonstration in one act, if the database is empty; answers whether it did. The same day always
   * gives the same data.
   */
  load(today: string, who: string): Promise<boolean> {
    const days = { today, week: comingMonday(today) };
    return this.database.act({ who, why: 'demonstration' }, async (tx) => {
      await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.demo'))`);
      if (!(await isEmpty(tx))) return false;
      await putWorkshop(tx, WORKSHOP, true);
      const shelf = await loadCatalog(tx, days);
      await loadStock(tx, this.stock, days, shelf);
      await loadOrders(tx, days, shelf);
      return true;
    });
  }
}

const WORKSHOP = {
  name: 'Quarry Lane Workshop',
  timeZone: 'UTC',
  currency: 'EUR',
  benchMinutes: [360, 360, 360, 360, 360, 0, 0],
  slackDays: 1,
  receivingDays: 1,
  scaleStep: '0.1 g',
  scaleLeast: '0.5 g',
};

async function isEmpty(tx: EntityManager): Promise<boolean> {
  for (const table of [Workshop, Item, Channel]) if ((await tx.count(table)) > 0) return false;
  return true;
}
