import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { itemByCode, itemsByCode } from '../catalog/items.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import { dayOfAct } from './day-of-act.js';
import { Lot } from './stock.entity.js';
import type {
  LotCreate,
  LotPage,
  LotQuery,
  LotView,
  MovementPage,
  MovementQuery,
  MovementView,
} from './stock.schema.js';
import { StockService } from './stock.service.js';

/** Which lots there are, and what moved each. */
@Injectable()
export class LotsService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /** Takes in what was delivered or found at the opening count, as a new lot. */
  async receive(who: string, body: LotCreate): Promise<LotView> {
    const today = await this.clock.today();
    const cameOn = dayOfAct(today, body.receivedOn, '/receivedOn');
    return this.database.act({ who, why: body.reason }, async (tx) => {
      const item = (await itemsByCode(tx, [{ code: body.item, pointer: '/item' }])).get(body.item)!;
      const lot = await this.stock.receive(tx, {
        item,
        quantity: positiveAmountOf(body.quantity, item, '/quantity'),
        cause: 'receipt',
        cameOn,
        code: body.code,
        expiresOn: body.expiresOn,
        valueE4: body.costE4,
        place: body.place,
        supplierId: body.supplier === undefined ? null : await supplierIdOf(tx, body.supplier),
        supplierLot: body.supplierLot,
        certificate: body.certificate,
        reason: body.reason,
      });
      return lotViewByCode(tx, lot.code);
    });
  }

  list(query: LotQuery): Promise<LotPage> {
    return this.database.read(async (tx) => {
      const item = query.item === undefined ? null : await itemByCode(tx, query.item);
      const rows = await tx.query<LotRow[]>(
        `${LOT_ROWS} where ($1::bigint is null or l.item_id = $1) and ($2::text is null or l.status = $2)
         and l.code > $3 order by l.code limit $4`,
        [item?.id ?? null, query.status ?? null, query.after ?? '', query.limit + 1],
      );
      const lots = rows.slice(0, query.limit).map(lotViewOf);
      return { lots, next: rows.length > query.limit ? lots.at(-1)!.code : null };
    });
  }

  get(code: string): Promise<LotView> {
    return this.database.read((tx) => lotViewByCode(tx, code));
  }

  movements(code: string, query: MovementQuery): Promise<MovementPage> {
    return this.database.read(async (tx) => {
      const lot = await tx.findOneBy(Lot, { code });
      if (!lot) throw notFound('lot', code);
      const rows = await tx.query<(Omit<MovementView, 'recordedAt'> & { recordedAt: Date })[]>(
        `select m.id, m.cause, m.quantity, m.value_e4 as "valueE4", m.done_on as "doneOn",
           m.recorded_at as "recordedAt", m.reason, other.code as "otherLot", m.reverses_id as reverses,
           m.created_by as "createdBy"
         from movement m left join lot other on other.id = m.other_lot_id
         where m.lot_id = $1 and m.id > $2 order by m.id limit $3`,
        [lot.id, query.after ?? 0, query.limit + 1],
      );
      const page = rows.slice(0, query.limit).map((row) => ({ ...row, recordedAt: row.recordedAt.toISOString() }));
      return { movements: page, next: rows.length > query.limit ? page.at(-1)!.id : null };
    });
  }
}

const LOT_ROWS = `
  select l.code, i.code as item, l.status, l.on_hand as "onHand", l.reserved, l.on_hand - l.reserved as free,
    l.value_e4 as "valueE4", l.expires_on as "expiresOn", l.came_on as "cameOn", l.place, s.code as supplier,
    l.supplier_lot as "supplierLot", l.certificate, p.code as "parentLot", l.never_release as "neverRelease",
    l.created_by as "createdBy",
    l.created_at as "createdAt"
  from lot l join item i on i.id = l.item_id left join supplier s on s.id = l.supplier_id
    left join lot p on p.id = l.parent_lot_id`;

type LotRow = Omit<LotView, 'createdAt'> & { createdAt: Date };

function lotViewOf(row: LotRow): LotView {
  return { ...row, createdAt: row.createdAt.toISOString() };
}

/** Throws a 404 problem. */
export async function lotViewByCode(tx: EntityManager, code: string): Promise<LotView> {
  const rows = await tx.query<LotRow[]>(`${LOT_ROWS} where l.code = $1`, [code]);
  if (!rows[0]) throw notFound('lot', code);
  return lotViewOf(rows[0]);
}

/** A lot may name a supplier, whose own room comes later: only the key is looked up here. */
async function supplierIdOf(tx: EntityManager, code: string): Promise<number> {
  const rows = await tx.query<{ id: number }[]>('select id from supplier where code = $1', [code]);
  if (!rows[0]) throw invalid('/supplier', `There is no supplier ${code}.`, 'unknown-supplier');
  return rows[0].id;
}
