import { createHash } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { AMOUNT_MAX } from '../catalog/amount.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import { lockExpected, setKeepsUntil } from '../purchasing/deliveries.service.js';
import type { DeliveryReceived } from '../purchasing/purchasing.schema.js';
import { ReceivingService } from '../purchasing/receiving.service.js';
import { baseQuantity, lotsSaid } from './announced.js';
import type { SaidLot } from './announced.js';
import type { AnnouncedLot, AnnouncedView, EpcisImport } from './epcis.schema.js';

interface Line {
  id: number;
  line: number;
  itemId: number;
  item: string;
  measure: Measure;
  densityUgPerMl: number | null;
  gtins: string[] | null;
}

/** What suppliers say of the lots they send. */
@Injectable()
export class AnnouncedService {
  constructor(
    private readonly database: Database,
    private readonly receiving: ReceivingService,
  ) {}

  /** What was announced of a delivery, by the last document that speaks of each lot. Throws a 404 problem. */
  list(delivery: string): Promise<AnnouncedView> {
    return this.database.read(async (tx) => {
      const [row] = await tx.query<{ id: number }[]>('select id from delivery where code = $1', [delivery]);
      if (!row) throw notFound('delivery', delivery);
      return { delivery, lots: await announcedLots(tx, row.id), leftAside: [] };
    });
  }

  /**
   * Reads an EPCIS document of a supplier: which lots come on which line of an expected delivery, how much, and until when
   * they keep. The line's date is the earliest of them. The same document again changes nothing. Throws 404 and 409.
   */
  take(who: string, code: string, document: EpcisImport): Promise<AnnouncedView> {
    const sha256 = createHash('sha256').update(JSON.stringify(document)).digest('hex');
    return this.database.act({ who }, async (tx) => {
      const { delivery } = await lockExpected(tx, code);
      const lines = await linesOf(tx, delivery.id, delivery.supplierId);
      const { lots, leftAside } = lotsSaid(document);
      for (const lot of lots) {
        const line = lines.find(({ gtins }) => gtins?.includes(lot.gtin));
        const why = await this.note(tx, line, lot, sha256);
        if (why !== null) leftAside.push({ epcClass: lot.epcClass, why });
      }
      const said = await tx.query<{ lineId: number; until: string }[]>(
        `select delivery_line_id as "lineId", min(expires_on) as until from announced_lot
         where document_sha256 = $1 and expires_on is not null group by 1`,
        [sha256],
      );
      await setKeepsUntil(tx, delivery.id, said);
      return { delivery: code, lots: await announcedLots(tx, delivery.id), leftAside };
    });
  }

  /** Takes in a delivery as it was announced. Throws 409 `not-announced`, and what receiving refuses. */
  async receive(who: string, code: string): Promise<DeliveryReceived> {
    const { lots } = await this.list(code);
    if (lots.length === 0) throw conflict('not-announced', `Nobody announced the lots of delivery ${code}.`);
    const lines = new Map<number, AnnouncedLot[]>();
    for (const lot of lots) lines.set(lot.line, [...(lines.get(lot.line) ?? []), lot]);
    return this.receiving.receive(who, code, {
      lines: [...lines].map(([line, said]) => ({
        line,
        lots: said.map(({ quantity, supplierLot, expiresOn }) => ({
          quantity,
          supplierLot,
          ...(expiresOn !== null && { expiresOn }),
        })),
      })),
    });
  }

  /** Answers why a lot is left aside, or null. */
  private async note(tx: EntityManager, line: Line | undefined, lot: SaidLot, sha256: string): Promise<string | null> {
    if (!line) return `No item of this delivery has the trade number ${lot.gtin}.`;
    const quantity = baseQuantity(lot, line);
    if (quantity === undefined || quantity > AMOUNT_MAX)
      return `${line.item} is ${line.measure}: ${lot.quantity} ${lot.uom ?? 'pieces'} of it cannot be written down.`;
    await tx.query(
      `insert into announced_lot (delivery_line_id, supplier_lot, quantity, expires_on, epc_class, event_id, document_sha256)
       values ($1, $2, $3, $4, $5, $6, $7) on conflict do nothing`,
      [line.id, lot.lot.slice(0, 120), quantity, lot.expiresOn, lot.epcClass, lot.eventId, sha256],
    );
    return null;
  }
}

function linesOf(tx: EntityManager, deliveryId: number, supplierId: number): Promise<Line[]> {
  return tx.query<Line[]>(
    `select dl.id, row_number() over (order by dl.id)::int as line, i.id as "itemId", i.code as item, i.measure,
       i.density_ug_per_ml as "densityUgPerMl", (select array_agg(t.gtin) from trade_item t
         where t.item_id = i.id and (t.supplier_id is null or t.supplier_id = $2)) as gtins
     from delivery_line dl join item i on i.id = dl.item_id where dl.delivery_id = $1 order by dl.id`,
    [deliveryId, supplierId],
  );
}

function announcedLots(tx: EntityManager, deliveryId: number): Promise<AnnouncedLot[]> {
  return tx.query<AnnouncedLot[]>(
    `select distinct on (x.line, a.supplier_lot) x.line, x.item, a.supplier_lot as "supplierLot", a.quantity,
       a.expires_on as "expiresOn", a.epc_class as "epcClass"
     from (select dl.id, row_number() over (order by dl.id)::int as line, i.code as item
         from delivery_line dl join item i on i.id = dl.item_id where dl.delivery_id = $1) x
       join announced_lot a on a.delivery_line_id = x.id
     order by x.line, a.supplier_lot, a.id desc`,
    [deliveryId],
  );
}
