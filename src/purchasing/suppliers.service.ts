import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import type { Item } from '../catalog/item.entity.js';
import { itemsByCode } from '../catalog/items.service.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { Pack, Supplier } from './purchasing.entity.js';
import type { PackCreate, PackQuery, PackView, SupplierCreate } from './purchasing.schema.js';

/** Who sells what, in which packs, and how long it takes. */
@Injectable()
export class SuppliersService {
  constructor(private readonly database: Database) {}

  list(): Promise<{ suppliers: SupplierCreate[] }> {
    return this.database.read(async (tx) => {
      const rows = await tx.find(Supplier, { order: { code: 'ASC' } });
      return { suppliers: rows.map(({ code, name }) => ({ code, name })) };
    });
  }

  create(who: string, body: SupplierCreate): Promise<SupplierCreate> {
    return this.database.act({ who }, async (tx) => {
      await tx.insert(Supplier, { code: body.code, name: body.name });
      return body;
    });
  }

  packs(query: PackQuery): Promise<{ packs: PackView[] }> {
    return this.database.read(async (tx) => ({
      packs: await tx.query<PackView[]>(
        `${PACK_ROWS} where ($1::text is null or i.code = $1) and ($2::text is null or s.code = $2)
         order by i.code, s.code, p.code`,
        [query.item ?? null, query.supplier ?? null],
      ),
    }));
  }

  /** A code the supplier already uses is refused by the database. */
  createPack(who: string, body: PackCreate): Promise<PackView> {
    return this.database.act({ who }, async (tx) => {
      const supplier = await supplierByCode(tx, body.supplier);
      const item = (await itemsByCode(tx, [{ code: body.item, pointer: '/item' }])).get(body.item)!;
      const pack = newPack(tx, body, supplier, item);
      await tx.insert(Pack, pack);
      return (await tx.query<PackView[]>(`${PACK_ROWS} where p.id = $1`, [pack.id]))[0]!;
    });
  }
}

const PACK_ROWS = `
  select s.code as supplier, i.code as item, p.code, p.size, p.price_e4 as "priceE4", p.least_packs as "leastPacks",
    p.lead_days as "leadDays", p.withdrawn
  from pack p join supplier s on s.id = p.supplier_id join item i on i.id = p.item_id`;

/** The supplier, or a 422 problem at `/supplier`. */
export async function supplierByCode(tx: EntityManager, code: string): Promise<Supplier> {
  const supplier = await tx.findOneBy(Supplier, { code });
  if (!supplier) throw invalid('/supplier', `There is no supplier ${code}.`, 'unknown-supplier');
  return supplier;
}

/** A pack as the body states it, not yet kept. Throws 422 problems. */
export function newPack(tx: EntityManager, body: PackCreate, supplier: Supplier, item: Item): Pack {
  if (item.kind !== 'material') throw invalid('/item', `${item.code} is made here, not bought.`, 'not-bought');
  return tx.create(Pack, {
    supplierId: supplier.id,
    itemId: item.id,
    code: body.code,
    size: positiveAmountOf(body.size, item, '/size'),
    priceE4: body.priceE4,
    leastPacks: body.leastPacks ?? 1,
    leadDays: body.leadDays,
    withdrawn: false,
  });
}
