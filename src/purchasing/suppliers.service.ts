import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import type { Item } from '../catalog/item.entity.js';
import { itemsByCode } from '../catalog/items.service.js';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import { Pack, Supplier } from './purchasing.entity.js';
import type {
  PackChange,
  PackCreate,
  PackQuery,
  PackView,
  SupplierChange,
  SupplierCreate,
  SupplierView,
} from './purchasing.schema.js';

/** Who sells what, in which packs, and how long it takes. */
@Injectable()
export class SuppliersService {
  constructor(private readonly database: Database) {}

  list(): Promise<{ suppliers: SupplierView[] }> {
    return this.database.read(async (tx) => ({
      suppliers: (await tx.find(Supplier, { order: { code: 'ASC' } })).map(supplierViewOf),
    }));
  }

  create(who: string, body: SupplierCreate): Promise<SupplierView> {
    return this.database.act({ who }, async (tx) => {
      await tx.insert(Supplier, body);
      return supplierViewOf(await supplierNamed(tx, body.code));
    });
  }

  /** Changes what is said, and leaves the rest. Throws 404. */
  change(who: string, code: string, body: SupplierChange): Promise<SupplierView> {
    return this.database.act({ who }, async (tx) => {
      const { id } = await supplierNamed(tx, code);
      if (Object.keys(body).length > 0) await tx.update(Supplier, { id }, body);
      return supplierViewOf(await supplierNamed(tx, code));
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
      await writeBreaks(tx, pack.id, body.breaks ?? []);
      return packViewById(tx, pack.id);
    });
  }

  /** Changes what is said of a pack: a new price, or that it is no longer sold. Size and item stay: lots came in it. */
  changePack(who: string, supplierCode: string, code: string, body: PackChange): Promise<PackView> {
    return this.database.act({ who }, async (tx) => {
      const { id: supplierId } = await supplierNamed(tx, supplierCode);
      const pack = await tx.findOneBy(Pack, { supplierId, code });
      if (!pack) throw notFound('pack', code);
      const { breaks, ...rest } = body;
      if (Object.keys(rest).length > 0) await tx.update(Pack, { id: pack.id }, rest);
      if (breaks) {
        await tx.query('delete from pack_break where pack_id = $1', [pack.id]);
        await writeBreaks(tx, pack.id, breaks);
      }
      return packViewById(tx, pack.id);
    });
  }
}

const PACK_ROWS = `
  select s.code as supplier, i.code as item, p.code, p.size, p.price_e4 as "priceE4", p.least_packs as "leastPacks",
    p.lead_days as "leadDays", coalesce((
      select json_agg(json_build_object('fromPacks', b.from_packs, 'priceE4', b.price_e4) order by b.from_packs)
      from pack_break b where b.pack_id = p.id), '[]') as breaks, p.withdrawn
  from pack p join supplier s on s.id = p.supplier_id join item i on i.id = p.item_id`;

async function packViewById(tx: EntityManager, id: number): Promise<PackView> {
  return (await tx.query<PackView[]>(`${PACK_ROWS} where p.id = $1`, [id]))[0]!;
}

/** The supplier, or a 404 problem. */
export async function supplierNamed(tx: EntityManager, code: string): Promise<Supplier> {
  const supplier = await tx.findOneBy(Supplier, { code });
  if (!supplier) throw notFound('supplier', code);
  return supplier;
}

function supplierViewOf(supplier: Supplier): SupplierView {
  const { code, name, orderDays, minimumOrderE4, freightE4, freightFreeFromE4, email, account, address } = supplier;
  return { code, name, orderDays, minimumOrderE4, freightE4, freightFreeFromE4, email, account, address };
}

/** The supplier, or a 422 problem at `/supplier`. */
export async function supplierByCode(tx: EntityManager, code: string): Promise<Supplier> {
  const supplier = await tx.findOneBy(Supplier, { code });
  if (!supplier) throw invalid('/supplier', `There is no supplier ${code}.`, 'unknown-supplier');
  return supplier;
}

async function writeBreaks(
  tx: EntityManager,
  packId: number,
  breaks: NonNullable<PackCreate['breaks']>,
): Promise<void> {
  if (breaks.length === 0) return;
  await tx.query(
    `insert into pack_break (pack_id, from_packs, price_e4)
     select $1, b."fromPacks", b."priceE4" from jsonb_to_recordset($2::jsonb) as b ("fromPacks" int, "priceE4" bigint)`,
    [packId, JSON.stringify(breaks)],
  );
}

/** Keeps what a pack costs now: the price of the break that so many packs reach, or of a single one. */
export async function takePrice(tx: EntityManager, packId: number, packs: number, priceE4: number): Promise<void> {
  const [reached] = await tx.query<{ fromPacks: number; priceE4: number }[]>(
    `select from_packs as "fromPacks", price_e4 as "priceE4" from pack_break
     where pack_id = $1 and from_packs <= $2 order by price_e4, from_packs desc limit 1`,
    [packId, packs],
  );
  if (!reached) {
    await tx.update(Pack, { id: packId }, { priceE4 });
    return;
  }
  if (reached.priceE4 === priceE4) return;
  await tx.query('delete from pack_break where pack_id = $1 and from_packs = $2', [packId, reached.fromPacks]);
  await writeBreaks(tx, packId, [{ fromPacks: reached.fromPacks, priceE4 }]);
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
