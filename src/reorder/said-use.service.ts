import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import type { Item } from '../catalog/item.entity.js';
import { itemByCode, itemsByCode } from '../catalog/items.service.js';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import type { SaidPut, SaidView } from './said-use.schema.js';

const NOTHING = {
  by: 'nothing',
  like: null,
  likePpb: null,
  quantity: null,
  per: null,
  from: null,
  saidBy: null,
} as const;

/** What is said of an item's use until its own weeks say enough. */
@Injectable()
export class SaidUseService {
  constructor(private readonly database: Database) {}

  /** Throws 404 for what is not bought. */
  get(code: string): Promise<SaidView> {
    return this.database.read(async (tx) => viewOf(tx, await boughtItem(tx, code)));
  }

  /** Puts what is said in the place of what was. Throws 404 for what is not bought, 422 where the other item is none, itself or measured otherwise. */
  put(who: string, code: string, body: SaidPut): Promise<SaidView> {
    return this.database.act({ who }, async (tx) => {
      const item = await boughtItem(tx, code);
      await tx.query('delete from said_use where item_id = $1', [item.id]);
      const other = body.by === 'like' ? await otherItem(tx, item, body.like) : null;
      const quantity = body.by === 'estimate' ? positiveAmountOf(body.quantity, item, '/quantity') : null;
      await tx.query(
        'insert into said_use (item_id, like_id, like_ppb, quantity, per, from_day) values ($1, $2, $3, $4, $5, $6)',
        [
          item.id,
          other?.id,
          body.by === 'like' ? body.percent : null,
          quantity,
          body.by === 'estimate' ? body.per : null,
          body.from,
        ],
      );
      return viewOf(tx, item);
    });
  }

  /** From now on only its own use speaks. Throws 404 for what is not bought. */
  takeBack(who: string, code: string): Promise<SaidView> {
    return this.database.act({ who }, async (tx) => {
      const item = await boughtItem(tx, code);
      await tx.query('delete from said_use where item_id = $1', [item.id]);
      return viewOf(tx, item);
    });
  }
}

async function viewOf(tx: EntityManager, { id, code }: Item): Promise<SaidView> {
  const [row] = await tx.query<
    {
      like: string | null;
      likePpb: number | null;
      quantity: number | null;
      per: 'week' | 'month' | null;
      from: string | null;
      saidBy: string;
    }[]
  >(
    `select o.code as like, s.like_ppb as "likePpb", s.quantity, s.per, s.from_day::text as "from", s.said_by as "saidBy"
     from said_use s left join item o on o.id = s.like_id where s.item_id = $1`,
    [id],
  );
  return row ? { item: code, by: row.like === null ? 'estimate' : 'like', ...row } : { item: code, ...NOTHING };
}

async function boughtItem(tx: EntityManager, code: string): Promise<Item> {
  const item = await itemByCode(tx, code);
  if (item.kind !== 'material') throw notFound('bought item', code);
  return item;
}

async function otherItem(tx: EntityManager, item: Item, code: string): Promise<Item> {
  const other = (await itemsByCode(tx, [{ code, pointer: '/like' }])).get(code)!;
  if (other.id === item.id) throw invalid('/like', 'Name another item.', 'itself');
  if (other.kind !== 'material') throw invalid('/like', `${code} is made, not bought.`, 'not-bought');
  if (other.measure !== item.measure)
    throw invalid('/like', `${code} is ${other.measure}, and ${item.code} is ${item.measure}.`, 'measured-otherwise');
  return other;
}
