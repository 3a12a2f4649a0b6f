import { Injectable } from '@nestjs/common';
import { itemsByCode } from '../catalog/items.service.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { Channel } from './orders.entity.js';
import type {
  ChannelCreate,
  ChannelView,
  ShopCodePage,
  ShopCodeQuery,
  ShopCodeSet,
  ShopCodeView,
} from './orders.schema.js';

/** Where orders come from, and what each shop calls our items. */
@Injectable()
export class ChannelsService {
  constructor(private readonly database: Database) {}

  list(): Promise<{ channels: ChannelView[] }> {
    return this.database.read(async (tx) => ({ channels: await tx.find(Channel, { order: { code: 'ASC' } }) }));
  }

  /** A code in use is refused by the database. */
  create(who: string, body: ChannelCreate): Promise<ChannelView> {
    return this.database.act({ who }, async (tx) => {
      await tx.insert(Channel, body);
      return body;
    });
  }

  /** By channel, then code; `next` is both with a slash between. */
  shopCodes(query: ShopCodeQuery): Promise<ShopCodePage> {
    const [channel, code] = afterCode(query.after);
    return this.database.read(async (tx) => {
      const rows = await tx.query<ShopCodeView[]>(
        `select s.channel, s.code, i.code as item, s.units from shop_code s join item i on i.id = s.item_id
         where (s.channel, s.code) > ($1, $2) and ($3::text is null or s.channel = $3)
         order by s.channel, s.code limit $4`,
        [channel, code, query.channel ?? null, query.limit + 1],
      );
      const page = rows.slice(0, query.limit);
      const last = page.at(-1);
      return { shopCodes: page, next: rows.length > query.limit && last ? `${last.channel}/${last.code}` : null };
    });
  }

  /** Says what a shop's code stands for; said again, the newer meaning holds for what is ordered or imported from then. */
  setShopCode(who: string, body: ShopCodeSet): Promise<ShopCodeView> {
    return this.database.act({ who }, async (tx) => {
      if (!(await tx.existsBy(Channel, { code: body.channel })))
        throw invalid('/channel', `There is no channel ${body.channel}.`, 'unknown-channel');
      const items = await itemsByCode(tx, [{ code: body.item, pointer: '/item' }]);
      const item = items.get(body.item)!;
      if (item.measure === 'weighed')
        throw invalid('/item', `${item.code} is weighed, so it cannot be ordered by the piece.`, 'weighed-item');
      await tx.query(
        `insert into shop_code (channel, code, item_id, units) values ($1, $2, $3, $4)
         on conflict (channel, code) do update set item_id = excluded.item_id, units = excluded.units,
           created_by = acting_person(), created_at = now()`,
        [body.channel, body.code, item.id, body.units],
      );
      return body;
    });
  }
}

function afterCode(after: string | undefined): [string, string] {
  const slash = after?.indexOf('/') ?? -1;
  if (after === undefined) return ['', ''];
  if (slash < 0) throw invalid('/query/after', 'Give "next" of the page before, unchanged.');
  return [after.slice(0, slash), after.slice(slash + 1)];
}
