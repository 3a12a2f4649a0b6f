import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { itemByCode, itemsByCode } from '../catalog/items.service.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import { supplierByCode } from '../purchasing/suppliers.service.js';
import type { TradeItemList, TradeItemPut, TradeItemQuery, TradeItemView, TraceSettings } from './settings.schema.js';

/**
 * Three years after a cosmetic product was made available its distributors must be identifiable: Regulation (EC)
 * 1223/2009, article 7 (from memory). What holds for a workshop its own law says.
 */
export const CONTACT_DAYS = 1_095;

export const LETTER = `Dear {customer},

we are recalling goods we sent you. Reason: {why}

{products}

Please do not use, sell or give away any of it. Keep it apart, and tell us how much of it you have, how much was used, and how much you passed on. We will tell you how to send it back.

If somebody was hurt or something was damaged, see a doctor or call the emergency services first, then tell us at once.

{workshop}
{date}, reference {recall}`;

/** How the workshop names its goods to others, and how long it keeps who they are. */
@Injectable()
export class TraceSettingsService {
  constructor(private readonly database: Database) {}

  get(): Promise<TraceSettings> {
    return this.database.read(traceSettingsOf);
  }

  put(who: string, body: TraceSettings): Promise<TraceSettings> {
    return this.database.act({ who }, async (tx) => {
      await tx.query(
        `insert into trace_setting (id, company_prefix, contact_days, letter) values (1, $1, $2, $3)
         on conflict (id) do update set company_prefix = excluded.company_prefix, contact_days = excluded.contact_days,
           letter = excluded.letter, updated_by = acting_person(), updated_at = now()`,
        [body.companyPrefix, body.contactDays, body.letter === LETTER ? '' : body.letter],
      );
      return traceSettingsOf(tx);
    });
  }

  tradeItems(query: TradeItemQuery): Promise<TradeItemList> {
    return this.database.read(async (tx) => {
      if (query.item !== undefined) await itemByCode(tx, query.item);
      return {
        tradeItems: await tx.query<TradeItemView[]>(`${TRADE_ITEMS} where $1::text is null or i.code = $1 order by 1`, [
          query.item ?? null,
        ]),
      };
    });
  }

  /** Says which item a trade number stands for. Our own begins with our company prefix. Throws 409 where it stands for another. */
  putTradeItem(who: string, body: TradeItemPut): Promise<TradeItemView> {
    return this.database.act({ who }, async (tx) => {
      const item = (await itemsByCode(tx, [{ code: body.item, pointer: '/item' }])).get(body.item)!;
      const supplier = body.supplier ? await supplierByCode(tx, body.supplier) : null;
      const { companyPrefix } = await traceSettingsOf(tx);
      if (supplier === null && (companyPrefix === null || !body.gtin.slice(1).startsWith(companyPrefix)))
        throw invalid(
          '/gtin',
          companyPrefix === null
            ? 'A number of our own needs the company prefix of the workshop first. Or say whose number it is.'
            : `A number of our own begins with ${companyPrefix}. Or say whose number it is.`,
        );
      const [known] = await tx.query<TradeItemView[]>(`${TRADE_ITEMS} where t.gtin = $1`, [body.gtin]);
      if (known && (known.item !== item.code || known.supplier !== (supplier?.code ?? null)))
        throw conflict('already-so', `The number ${body.gtin} stands for ${known.item} already.`);
      if (!known)
        await tx.query('insert into trade_item (gtin, item_id, supplier_id) values ($1, $2, $3)', [
          body.gtin,
          item.id,
          supplier?.id ?? null,
        ]);
      return (await tx.query<TradeItemView[]>(`${TRADE_ITEMS} where t.gtin = $1`, [body.gtin]))[0]!;
    });
  }
}

const TRADE_ITEMS = `
  select t.gtin, i.code as item, s.code as supplier from trade_item t join item i on i.id = t.item_id
    left join supplier s on s.id = t.supplier_id`;

export async function traceSettingsOf(tx: EntityManager): Promise<TraceSettings> {
  const rows = await tx.query<TraceSettings[]>(
    `select company_prefix as "companyPrefix", contact_days as "contactDays", letter from trace_setting`,
  );
  const row = rows[0] ?? { companyPrefix: null, contactDays: CONTACT_DAYS, letter: '' };
  return { ...row, letter: row.letter === '' ? LETTER : row.letter };
}
