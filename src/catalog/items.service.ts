import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { invalid, notFound, Problem } from '../platform/problem.js';
import type { ProblemPart } from '../platform/problem.js';
import { likePart } from '../platform/like-part.js';
import { amountOf, scaledDecimal } from './amount.js';
import { Item, UseLimit } from './item.entity.js';
import type {
  ItemCreate,
  ItemPage,
  ItemPatch,
  ItemQuery,
  ItemView,
  UseLimitCreate,
  UseLimitView,
} from './items.schema.js';

/** Density text: a decimal number and grams per millilitre, which is the same as kilograms per litre. */
const DENSITY = /^(\d+(?:\.\d+)?) ?(?:g\/ml|kg\/l)$/i;

/** What is held on the shelf, and how it is kept. */
@Injectable()
export class ItemsService {
  constructor(private readonly database: Database) {}

  list(query: ItemQuery): Promise<ItemPage> {
    return this.database.read(async (tx) => {
      const find = tx.createQueryBuilder(Item, 'i').where('i.code > :after', { after: query.after ?? '' });
      if (query.kind !== undefined) find.andWhere('i.kind = :kind', { kind: query.kind });
      if (query.search !== undefined)
        find.andWhere('(i.code ilike :part or i.name ilike :part)', { part: likePart(query.search) });
      const items = await find
        .orderBy('i.code')
        .limit(query.limit + 1)
        .getMany();
      const page = items.slice(0, query.limit);
      return { items: page.map(itemViewOf), next: items.length > query.limit ? page.at(-1)!.code : null };
    });
  }

  get(code: string): Promise<ItemView> {
    return this.database.read(async (tx) => itemViewOf(await itemByCode(tx, code)));
  }

  /** A code in use is refused by the database. */
  create(who: string, body: ItemCreate): Promise<ItemView> {
    return this.database.act({ who }, async (tx) => {
      const item = newItem(tx, body);
      await tx.insert(Item, item);
      return itemViewOf(item);
    });
  }

  /** Adds many, all or none. Faults point at the place of the item in the list. */
  createMany(who: string, bodies: readonly ItemCreate[]): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const known = await tx.query<{ code: string }[]>('select code from item where code = any($1::text[])', [
        bodies.map(({ code }) => code),
      ]);
      const taken = new Set(known.map(({ code }) => code));
      const errors: ProblemPart[] = [];
      const items = bodies.flatMap((body, at) => {
        if (taken.has(body.code))
          errors.push({ pointer: `/${at}/code`, detail: `${body.code} is there already.`, code: 'already-exists' });
        taken.add(body.code);
        try {
          return [newItem(tx, body)];
        } catch (error) {
          if (!(error instanceof Problem)) throw error;
          for (const part of error.errors) errors.push({ ...part, pointer: `/${at}${part.pointer}` });
          return [];
        }
      });
      if (errors.length > 0) throw new Problem({ status: 422, code: 'items-refused', detail: REFUSED, errors });
      await tx.insert(Item, items);
    });
  }

  /** Changes what is stated about an item. Its measure only as long as nothing was ever counted in it. */
  change(who: string, code: string, body: ItemPatch): Promise<ItemView> {
    return this.database.act({ who }, async (tx) => {
      // the lock waits for whoever is writing a row that refers to this item, so the look below sees it
      const item = await itemByCode(tx, code, true);
      if (body.measure !== undefined && body.measure !== item.measure) refuseIfMeasured(item, body);
      const changed = stated(item, body);
      refuseContradictions(changed);
      await tx.save(Item, changed);
      return itemViewOf(changed);
    });
  }

  useLimits(code: string): Promise<{ useLimits: UseLimitView[] }> {
    return this.database.read(async (tx) => {
      const item = await itemByCode(tx, code);
      const rows = await tx.find(UseLimit, { where: { itemId: item.id }, order: { category: 'ASC' } });
      return { useLimits: rows.map(useLimitViewOf) };
    });
  }

  /** Records the limit of one category, in place of the figure recorded before. */
  setUseLimit(who: string, code: string, body: UseLimitCreate): Promise<UseLimitView> {
    return this.database.act({ who }, async (tx) => {
      const item = await itemByCode(tx, code);
      await tx.query(
        `insert into use_limit (item_id, category, limit_ppb, source, dated) values ($1, $2, $3, $4, $5)
         on conflict (item_id, category) do update set limit_ppb = excluded.limit_ppb, source = excluded.source,
           dated = excluded.dated, created_by = acting_person(), created_at = now()`,
        [item.id, body.category, body.limit, body.source, body.dated],
      );
      return { category: body.category, limitPpb: body.limit, source: body.source, dated: body.dated };
    });
  }
}

const REFUSED = 'Some of the items cannot be added, so none was.';

/** The item, locked when it is about to change. Throws a 404 problem. */
export async function itemByCode(tx: EntityManager, code: string, lock = false): Promise<Item> {
  const item = await tx.findOne(Item, {
    where: { code },
    ...(lock ? { lock: { mode: 'pessimistic_write' as const } } : {}),
  });
  if (!item) throw notFound('item', code);
  return item;
}

/**
 * The items of these codes. Each named place is checked: a code nobody knows is a 422 problem that points at all of its
 * places.
 */
export async function itemsByCode(
  tx: EntityManager,
  named: readonly { code: string; pointer: string }[],
): Promise<Map<string, Item>> {
  const codes = [...new Set(named.map(({ code }) => code))];
  const rows =
    codes.length === 0 ? [] : await tx.createQueryBuilder(Item, 'i').where('i.code = any(:codes)', { codes }).getMany();
  const items = new Map(rows.map((item) => [item.code, item]));
  const errors = named
    .filter(({ code }) => !items.has(code))
    .map(({ code, pointer }) => ({ pointer, detail: `There is no item ${code}.`, code: 'unknown-item' }));
  if (errors.length > 0) throw new Problem({ status: 422, code: 'unknown-item', detail: errors[0]!.detail, errors });
  return items;
}

/** An item as the body states it, not yet kept. Throws 422 problems for what contradicts itself. */
export function newItem(tx: EntityManager, body: ItemCreate): Item {
  const fresh = tx.create(Item, {
    code: body.code,
    kind: body.kind,
    densityUgPerMl: null,
    family: 'other',
    scent: null,
    policy: 'to-order',
    target: 0,
    seasonFrom: null,
    seasonTo: null,
    stocked: true,
    lotDateKind: 'expiry',
    shelfLifeDays: null,
    owedLifeDays: 0,
    heel: 0,
    quarantinedOnArrival: false,
    flammable: false,
  });
  const item = stated(fresh, body);
  refuseContradictions(item);
  return item;
}

/** `item` with everything the body states; amounts are read in the measure it then has. */
function stated(item: Item, body: ItemPatch): Item {
  const { density, densityUgPerMl, target, heel, ...plain } = body;
  if (density !== undefined && densityUgPerMl !== undefined)
    throw invalid('/density', 'Give density or densityUgPerMl, not both.', 'given-twice');
  Object.assign(item, plain);
  if (densityUgPerMl !== undefined) item.densityUgPerMl = densityUgPerMl;
  if (density !== undefined) item.densityUgPerMl = density === null ? null : densityOf(density);
  if (target !== undefined) item.target = amountOf(target, item, '/target');
  if (heel !== undefined) item.heel = amountOf(heel, item, '/heel');
  return item;
}

/** "0.8107 g/ml" in micrograms per millilitre, exactly. */
export function densityOf(text: string): number {
  const number = DENSITY.exec(text)?.[1];
  const ugPerMl = number === undefined ? null : scaledDecimal(number, 6);
  if (ugPerMl === null || ugPerMl < 100_000 || ugPerMl > 25_000_000)
    throw invalid('/density', 'Write a density from 0.1 to 25 such as "0.81 g/ml", with at most six decimals.');
  return ugPerMl;
}

/** The same rules as the table's own checks, said in words and pointed at the field. */
function refuseContradictions(item: Item): void {
  if (item.kind === 'bulk' && item.measure !== 'weighed') throw invalid('/measure', 'A bulk is weighed.');
  if ((item.kind === 'product' || item.kind === 'set') && item.measure !== 'counted')
    throw invalid('/measure', `A ${item.kind} is counted.`);
  const hasSeason = item.seasonFrom !== null && item.seasonTo !== null;
  if (item.policy === 'seasonal' && !hasSeason)
    throw invalid('/seasonFrom', 'A seasonal item needs the first and the last day of its season.');
  if (item.policy !== 'seasonal' && (item.seasonFrom !== null || item.seasonTo !== null))
    throw invalid('/seasonFrom', 'Only a seasonal item has a season; set both days to null.');
  if (hasSeason && item.seasonFrom! > item.seasonTo!)
    throw invalid('/seasonTo', 'The season must end on or after its first day.');
  if (!item.stocked && item.kind !== 'material') throw invalid('/stocked', 'Only a material may be unstocked.');
}

/** A target or heel in milligrams is no number of pieces; the other amounts of an item are looked for by the database. */
function refuseIfMeasured(item: Item, body: ItemPatch): void {
  if (item.target > 0 && body.target === undefined)
    throw invalid('/target', 'With another measure, state the target anew.', 'measure-in-use');
  if (item.heel > 0 && body.heel === undefined)
    throw invalid('/heel', 'With another measure, state the heel anew.', 'measure-in-use');
}

export function itemViewOf(item: Item): ItemView {
  return {
    code: item.code,
    name: item.name,
    kind: item.kind,
    measure: item.measure,
    family: item.family,
    scent: item.scent,
    densityUgPerMl: item.densityUgPerMl,
    policy: item.policy,
    target: item.target,
    seasonFrom: item.seasonFrom,
    seasonTo: item.seasonTo,
    stocked: item.stocked,
    lotDateKind: item.lotDateKind,
    shelfLifeDays: item.shelfLifeDays,
    owedLifeDays: item.owedLifeDays,
    heel: item.heel,
    quarantinedOnArrival: item.quarantinedOnArrival,
    flammable: item.flammable,
  };
}

function useLimitViewOf(row: UseLimit): UseLimitView {
  return { category: row.category, limitPpb: row.limitPpb, source: row.source, dated: row.dated };
}
