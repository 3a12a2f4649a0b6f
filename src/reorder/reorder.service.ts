import { Injectable } from '@nestjs/common';
import { MOMENT } from '../planning/snapshot.service.js';
import { PlanningThreads } from '../planning/threads/planning-threads.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import type { PurchaseOrderView } from '../purchasing/purchase-orders.schema.js';
import { PurchaseOrdersService } from '../purchasing/purchase-orders.service.js';
import { supplierByCode } from '../purchasing/suppliers.service.js';
import { ITEM_OUTLOOK, REORDER_LIST } from './list.js';
import type { ItemOutlook, ReorderDraft, ReorderList } from './reorder.schema.js';

/** What to buy, how much, by which day. */
@Injectable()
export class ReorderService {
  /** The last list, by the moment it shows: whoever sees the same moment sees the same rows. */
  private kept: { moment: string; list: ReorderList } | null = null;

  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly threads: PlanningThreads,
    private readonly orders: PurchaseOrdersService,
  ) {}

  /**
   * Every bought item that will fall under what should be kept before an order after the next look, or in the weeks after
   * that, could be here; fragrances first, then by family, the soonest last day first. And what to order together from
   * whom. What is answered is shared with others who ask at the same moment: it is read, never changed.
   */
  async list(): Promise<ReorderList> {
    const today = await this.clock.today();
    const [now] = await this.database.read((tx) => tx.query<{ moment: string | null }[]>(`select ${MOMENT} as moment`));
    if (this.kept !== null && this.kept.moment === now!.moment && this.kept.list.today === today) return this.kept.list;
    const { moment, list } = await this.threads.ask(REORDER_LIST, { today });
    if (moment !== null) this.kept = { moment, list };
    return list;
  }

  /** One item: its row on the list, if it is on it, its use by week, and how every method did on it. Throws 404. */
  async one(code: string): Promise<ItemOutlook> {
    const today = await this.clock.today();
    const { rows } = await this.list();
    const outlook = await this.threads.ask(ITEM_OUTLOOK, { today, code });
    return { today, row: rows.find((row) => row.item === code) ?? null, ...outlook };
  }

  /**
   * Drafts a purchase order of what is to be ordered from a supplier now (or of these items of the list), or adds it to the
   * draft there is. Throws a 422 problem for an unknown supplier, 409 when nothing has to be.
   */
  async draft(who: string, { supplier, items }: ReorderDraft): Promise<PurchaseOrderView> {
    await this.database.read((tx) => supplierByCode(tx, supplier));
    const { rows, orders } = await this.list();
    const due = new Set(items ?? orders.find((order) => order.supplier === supplier)?.lines.map(({ item }) => item));
    const lines = rows
      .filter((row) => row.supplier === supplier && due.has(row.item))
      .flatMap((row) =>
        row.packs.map(({ key, count, priceE4 }) => ({ pack: key.slice(supplier.length + 1), packs: count, priceE4 })),
      );
    if (lines.length === 0) throw conflict('nothing-to-order', `Nothing has to be ordered from ${supplier} now.`);
    return this.orders.addToDraft(who, { supplier, lines });
  }
}
