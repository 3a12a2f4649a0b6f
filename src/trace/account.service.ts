import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { Account } from '../kernel/trace/account.js';
import { cameIn, reconcile } from '../kernel/trace/account.js';
import { Database } from '../platform/database.js';
import type { AccountQuery, AccountView, BatchAccount, LotAccount } from './account.schema.js';
import type { SharesView, TracedLot, TraceView } from './trace.schema.js';
import { sharesOf } from './shares.service.js';
import { lotIdOf, lotsById, traceOf } from './trace.service.js';
import { byText } from '../kernel/measure/text-order.js';
import { linkRows, LOTS_MAX, lookUp, walkLots } from './walk.js';

/** Where everything of a lot, and of what it went into, is now. */
@Injectable()
export class AccountService {
  constructor(private readonly database: Database) {}

  /** The genealogy of a lot, where all of each lot in it is, and what else shares something. Throws a 404 problem. */
  traced(code: string, direction: TraceView['direction']): Promise<AccountedTrace> {
    return this.database.read(async (tx) => {
      const trace = await traceOf(tx, code, direction);
      const rows = await tx.query<{ id: number }[]>('select id from lot where code = any($1::text[])', [
        trace.lots.map((lot) => lot.code),
      ]);
      const ids = rows.map(({ id }) => id);
      return { trace, accounts: await accountsById(tx, ids, null), shares: await sharesOf(tx, code) };
    });
  }

  /** Throws a 404 problem. */
  account(code: string, query: AccountQuery): Promise<AccountView> {
    return this.database.read((tx) => accountOf(tx, code, query));
  }
}

/** A trace with the accounts of its lots and what it shares, of one moment. */
export interface AccountedTrace {
  trace: TraceView;
  accounts: LotAccount[];
  shares: SharesView;
}

export async function accountOf(tx: EntityManager, code: string, query: AccountQuery): Promise<AccountView> {
  await lookUp(tx);
  const id = await lotIdOf(tx, code);
  const ways = query.direction === 'both' ? (['back', 'forward'] as const) : ([query.direction] as const);
  const ids = new Set<number>();
  const batchIds = new Set<number>();
  let isWhole = true;
  for (const way of ways) {
    const walked = await walkLots(tx, way, [id]);
    if (walked.length > LOTS_MAX) isWhole = false;
    const within = walked.slice(0, LOTS_MAX);
    const { used, outputs } = await linkRows(tx, way, within);
    for (const one of within) ids.add(one);
    for (const { batchId } of [...used, ...outputs]) batchIds.add(batchId);
  }
  const lots = await accountsById(tx, [...ids], query.countedSince ?? null);
  const own = lots.find(({ lot }) => lot === code)!;
  return {
    lot: code,
    isWhole,
    reconciledPpb: own.reconciledPpb,
    madeReconciledPpb: together(lots.filter(isProduct)),
    unexplainedLots: lots.filter(({ unexplained, bookDifference }) => unexplained !== 0 || bookDifference !== 0).length,
    lots,
    batches: await batchAccounts(tx, [...batchIds]),
  };
}

/** The part of all their pieces that is reconciled, rounded down. */
function together(lots: readonly LotAccount[]): number | null {
  let whole = 0n;
  let reconciled = 0n;
  for (const lot of lots) {
    const into = BigInt(cameIn(lot));
    whole += into;
    reconciled += into * BigInt(lot.reconciledPpb);
  }
  return whole === 0n ? null : Number(reconciled / whole);
}

type Sums = Account & { id: number; countedOn: string | null; answered: number; missing: number; surplus: number };

/**
 * How far these lots are reconciled altogether: all pieces of products together where there are any, else the lot that is
 * reconciled least. Weights of different goods are not added up.
 */
export function overall(lots: readonly LotAccount[]): number {
  const pieces = together(lots.filter(isProduct));
  return pieces ?? lots.reduce((least, { reconciledPpb }) => Math.min(least, reconciledPpb), 1_000_000_000);
}

const isProduct = ({ measure, kind }: LotAccount) => measure === 'counted' && kind !== 'material';

/** The accounts of these lots, by code. */
export async function accountsById(
  tx: EntityManager,
  ids: readonly number[],
  countedSince: string | null,
): Promise<LotAccount[]> {
  const lots = await lotsById(tx, ids);
  const rows = await tx.query<Sums[]>(SUMS, [ids]);
  return rows.map((row) => lotAccountOf(row, lots.get(row.id)!, countedSince)).sort((a, b) => byText(a.lot, b.lot));
}

function lotAccountOf(row: Sums, lot: Omit<TracedLot, 'layer'>, countedSince: string | null): LotAccount {
  const { id: _, countedOn, answered, missing, surplus, ...account } = row;
  // of what stands on the shelf as nothing there is nothing to count
  const isSeen = countedOn !== null && (countedSince === null || countedOn >= countedSince);
  const isCounted = isSeen || account.onShelf === 0;
  const judged = reconcile(account, { isCounted, confirmed: answered, missing, surplus });
  const { code, item, name, kind, measure, reserved } = lot;
  return {
    lot: code,
    item,
    name,
    kind,
    measure,
    ...account,
    reserved,
    countedOn,
    isCounted,
    answered,
    missing,
    surplus,
    bookDifference: judged.bookDifference,
    unconfirmed: judged.unconfirmed,
    unexplained: judged.unexplained,
    reconciledPpb: judged.ppb,
  };
}

/* What recipients said last of each lot they got counts, beside what really came back of it. */
const SUMS = `
  with entry as materialized (
    select lot_id, cause, quantity, quantity > 0 as is_in, batch_id from standing_movement where lot_id = any($1::bigint[])
  ), booked as (
    select lot_id,
      coalesce(sum(quantity) filter (where cause = 'receipt'), 0)::bigint as "received",
      coalesce(sum(quantity) filter (where cause = 'production'), 0)::bigint as "made",
      coalesce(sum(quantity) filter (where cause = 'return'), 0)::bigint as "returned",
      coalesce(sum(quantity) filter (where cause = 'split' and is_in), 0)::bigint as "splitFrom",
      coalesce(sum(quantity) filter (where cause = 'count' and is_in), 0)::bigint as "found",
      coalesce(-sum(quantity) filter (where cause = 'consumption' and batch_id is not null), 0)::bigint as "usedInBatches",
      coalesce(-sum(quantity) filter (where cause in ('trial', 'own-use') or (cause = 'consumption' and batch_id is null)),
        0)::bigint as "usedElsewhere",
      coalesce(-sum(quantity) filter (where cause = 'shipment'), 0)::bigint as "shipped",
      coalesce(-sum(quantity) filter (where cause = 'sample'), 0)::bigint as "sampled",
      coalesce(-sum(quantity) filter (where cause = 'scrap'), 0)::bigint as "scrapped",
      coalesce(-sum(quantity) filter (where cause = 'return-to-supplier'), 0)::bigint as "sentToSupplier",
      coalesce(-sum(quantity) filter (where cause = 'split' and not is_in), 0)::bigint as "splitOff",
      coalesce(-sum(quantity) filter (where cause = 'count' and not is_in), 0)::bigint as "lost"
    from entry group by lot_id
  ), parcel as (
    select case e.cause when 'shipment' then e.lot_id else e.parent_id end as lot_id, ol.order_id,
      -sum(e.quantity) filter (where e.cause = 'shipment') as sent, sum(e.quantity) filter (where e.cause = 'return') as back
    from (select m.lot_id, l.parent_lot_id as parent_id, m.cause, m.quantity, m.order_line_id
        from lot l join standing_movement m on m.lot_id = l.id
        where l.id = any($1::bigint[]) or l.parent_lot_id = any($1::bigint[])) e
      join order_line ol on ol.id = e.order_line_id
    where e.cause in ('shipment', 'return') group by 1, 2
  ), said as (
    select distinct on (lot_id, order_id) lot_id, order_id, received, used + kept + destroyed + sent_back as known
    from recall_answer where lot_id = any($1::bigint[]) order by lot_id, order_id, id desc
  ), confirmed as (
    select p.lot_id, coalesce(p.sent, 0) as sent, s.received,
      least(coalesce(p.sent, 0), greatest(coalesce(s.known, 0), coalesce(p.back, 0))) as answered
    from parcel p left join said s on s.lot_id = p.lot_id and s.order_id = p.order_id
  ), evidence as (
    select lot_id, sum(answered)::bigint as answered, sum(greatest(0, received - sent))::bigint as surplus,
      sum(least(greatest(0, sent - received), sent - answered))::bigint as missing
    from confirmed group by lot_id
  )
  select l.id, l.on_hand as "onShelf", coalesce(b."received", 0) as "received", coalesce(b."made", 0) as "made",
    coalesce(b."returned", 0) as "returned", coalesce(b."splitFrom", 0) as "splitFrom", coalesce(b."found", 0) as "found",
    coalesce(b."usedInBatches", 0) as "usedInBatches", coalesce(b."usedElsewhere", 0) as "usedElsewhere",
    coalesce(b."shipped", 0) as "shipped", coalesce(b."sampled", 0) as "sampled", coalesce(b."scrapped", 0) as "scrapped",
    coalesce(b."sentToSupplier", 0) as "sentToSupplier", coalesce(b."splitOff", 0) as "splitOff",
    coalesce(b."lost", 0) as "lost",
    (select max(c.counted_on) from shelf_count_line cl join shelf_count c on c.id = cl.shelf_count_id
      where cl.lot_id = l.id) as "countedOn",
    coalesce(e.answered, 0) as answered, coalesce(e.missing, 0) as missing, coalesce(e.surplus, 0) as surplus
  from lot l left join booked b on b.lot_id = l.id left join evidence e on e.lot_id = l.id
  where l.id = any($1::bigint[])`;

function batchAccounts(tx: EntityManager, ids: readonly number[]): Promise<BatchAccount[]> {
  return tx.query<BatchAccount[]>(
    `select b.code as batch, i.code as item, b.status, f.put_in_mg as "putInMg", f.made_mg as "madeMg",
       f.left_mg as "leftMg", f.loss_mg as "lossMg", f.expected_loss_mg as "expectedLossMg",
       coalesce(f.loss_reason, '') as "lossReason"
     from batch b join item i on i.id = b.item_id left join batch_finish f on f.batch_id = b.id
     where b.id = any($1::bigint[]) order by b.code`,
    [ids],
  );
}
