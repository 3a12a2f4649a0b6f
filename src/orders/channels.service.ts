import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { itemsByCode } from '../catalog/items.service.js';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import { Channel } from './orders.entity.js';
import type {
  ChannelChange,
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

  /** Throws a 404 problem. */
  get(code: string): Promise<ChannelView> {
    return this.database.read((tx) => channelOf(tx, code));
  }

  /** A code in use is refused by the database. */
  create(who: string, body: ChannelCreate): Promise<ChannelView> {
    return this.database.act({ who }, async (tx) => {
      await tx.insert(Channel, body);
      return body;
    });
  }

  /** What its orders count as and how they are sent, where they say nothing themselves, those that are here too. */
  change(who: string, code: string, body: ChannelChange): Promise<ChannelView> {
    return this.database.act({ who }, async (tx) => {
      await tx.update(Channel, { code }, body);
      return channelOf(tx, code);
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
      await writeShopCodes(tx, [body], () => '');
      return body;
    });
  }

  /** Says it of several codes, all or none. Faults point at the place of the code in the list. */
  setShopCodes(who: string, bodies: readonly ShopCodeSet[]): Promise<void> {
    return this.database.act({ who }, (tx) => writeShopCodes(tx, bodies, (at) => `/${at}`));
  }
}

async function channelOf(tx: EntityManager, code: string): Promise<ChannelView> {
  const channel = await tx.findOneBy(Channel, { code });
  if (!channel) throw notFound('channel', code);
  return channel;
}

/** Throws a 422 problem that points into `placeOf` of every code that cannot stand for what is said. */
async function writeShopCodes(
  tx: EntityManager,
  bodies: readonly ShopCodeSet[],
  placeOf: (at: number) => string,
): Promise<void> {
  const known = new Set((await tx.find(Channel)).map(({ code }) => code));
  for (const [at, { channel }] of bodies.entries())
    if (!known.has(channel))
      throw invalid(`${placeOf(at)}/channel`, `There is no channel ${channel}.`, 'unknown-channel');
  const items = await itemsByCode(
    tx,
    bodies.map(({ item }, at) => ({ code: item, pointer: `${placeOf(at)}/item` })),
  );
  for (const [at, body] of bodies.entries()) {
    const item = items.get(body.item)!;
    if (item.measure === 'weighed')
      throw invalid(
        `${placeOf(at)}/item`,
        `${item.code} is weighed, so it cannot be ordered by the piece.`,
        'weighed-item',
      );
    await tx.query(
      `insert into shop_code (channel, code, item_id, units) values ($1, $2, $3, $4)
       on conflict (channel, code) do update set item_id = excluded.item_id, units = excluded.units,
         created_by = acting_person(), created_at = now()`,
      [body.channel, body.code, item.id, body.units],
    );
  }
}

function afterCode(after: string | undefined): [string, string] {
  const slash = after?.indexOf('/') ?? -1;
  if (after === undefined) return ['', ''];
  if (slash < 0) throw invalid('/query/after', 'Give "next" of the page before, unchanged.');
  return [after.slice(0, slash), after.slice(slash + 1)];
}
