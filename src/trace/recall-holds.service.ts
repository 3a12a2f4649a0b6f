import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { pauseBatch } from '../bench/pause.service.js';
import { changeStatuses } from '../stock/hold.service.js';
import { lockLotsById } from '../stock/locked-lot.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import type { BrokenPromise } from '../stock/stock.schema.js';
import { lotsById } from './trace.service.js';
import { lookUp } from './walk.js';
import type { HoldEffects, Lifted, RecallWhy } from './recall.schema.js';
import { addEntry, OWN_HOLDS, recallRow, scopeIds, scopeOf, widenScope } from './recalls.js';
import { lockOpen } from './recalls.service.js';

interface AtBench {
  id: number;
  batch: string;
  item: string;
  status: string;
  isPaused: boolean;
}

/** What a recall holds, all at once, and lifts again. */
@Injectable()
export class RecallHoldsService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** What holding would do now, and nothing is done. Throws a 404 problem. */
  preview(code: string): Promise<HoldEffects> {
    return this.database.read(async (tx) => {
      const recall = await recallRow(tx, code);
      const ids = [...new Set([...(await scopeIds(tx, recall.id)), ...(await scopeOf(tx, recall.lotId))])];
      const lots = [...(await lotsById(tx, ids))];
      const taken = lots.filter(([, { status, onHand }]) => isHeldNow(status, onHand));
      const promises = await openPromises(tx, { lotIds: taken.map(([id]) => id) });
      return effectsOf(code, {
        held: taken.map(([, { code: lot, item, status, onHand }]) => ({ lot, item, from: status, onHand })),
        others: lots.filter((one) => !taken.includes(one)).map(([, lot]) => lot.code),
        batches: await batchesAtBench(tx, ids),
        freed: promises.map((promise) => brokenOf(promise, promise.quantity)),
      });
    });
  }

  /**
   * Holds every lot of the scope of which something is left, in one act, and what has come of the suspected lot since.
   * What they were promised to is given back and named. Batches at the bench that took of them are paused.
   */
  async hold(who: string, code: string): Promise<HoldEffects> {
    const today = await this.clock.today();
    return this.database.act({ who, why: `recall ${code}` }, async (tx) => {
      const recall = await lockOpen(tx, code);
      await widenScope(tx, recall);
      const ids = await scopeIds(tx, recall.id);
      // batches before lots, as every act does
      const batches = await batchesAtBench(tx, ids, true);
      const locked = await lockLotsById(tx, ids);
      const taken = locked.filter(({ status, onHand }) => isHeldNow(status, onHand));
      const freed = await changeStatuses(tx, taken, 'held');
      await tx.query(
        `insert into recall_hold (recall_id, lot_id, from_status, state_change_id)
         select $1, s.subject_id, s.from_status, s.id from (select max(id) as id from state_change
           where subject = 'lot' and subject_id = any($2::bigint[]) group by subject_id) last
           join state_change s on s.id = last.id order by s.subject_id`,
        [recall.id, taken.map(({ id }) => id)],
      );
      for (const batch of batches.filter(({ isPaused }) => !isPaused))
        await pauseBatch(tx, batch.id, `recall ${code}`, today);
      await addEntry(
        tx,
        recall.id,
        'held',
        heldText(
          taken.map(({ code: lot }) => lot),
          freed,
          batches.map(({ batch }) => batch),
        ),
      );
      return effectsOf(code, {
        held: taken.map(({ code: lot, item, status, onHand }) => ({ lot, item, from: status, onHand })),
        others: locked.filter((lot) => !taken.includes(lot)).map((lot) => lot.code),
        batches,
        freed,
      });
    });
  }

  /**
   * Lifts what this recall itself held, and nothing else: a lot that somebody decided about since stays as it is, and one
   * that another open recall covers stays held. Batches stay paused until somebody takes them up again.
   */
  lift(who: string, code: string, { why }: RecallWhy): Promise<Lifted> {
    return this.database.act({ who, why }, async (tx) => {
      const recall = await lockOpen(tx, code);
      const own = await tx.query<{ id: number; lot_id: number; from_status: string }[]>(OWN_HOLDS, [recall.id]);
      const locked = await lockLotsById(
        tx,
        own.map(({ lot_id: id }) => id),
      );
      // read once they are locked: somebody may have decided while this waited
      const holds = await tx.query<{ id: number; lot_id: number; from_status: string }[]>(OWN_HOLDS, [recall.id]);
      const others = await coveredElsewhere(
        tx,
        recall.id,
        holds.map(({ lot_id: id }) => id),
      );
      const kept: Lifted['kept'] = [];
      const lifted = holds.flatMap((hold) => {
        const lot = locked.find(({ id }) => id === hold.lot_id)!;
        const other = others.get(hold.lot_id);
        if (other !== undefined) kept.push({ lot: lot.code, why: `Recall ${other} is open and covers it too.` });
        return other === undefined ? [{ hold, lot }] : [];
      });
      for (const to of ['released', 'quarantine'] as const) {
        const some = lifted.filter(({ hold }) => hold.from_status === to);
        if (some.length > 0)
          await changeStatuses(
            tx,
            some.map(({ lot }) => lot),
            to,
          );
      }
      for (const { hold } of lifted)
        await tx.query('insert into recall_lift (recall_id, lot_id, hold_id) values ($1, $2, $3)', [
          recall.id,
          hold.lot_id,
          hold.id,
        ]);
      await addEntry(tx, recall.id, 'lifted', `Lots as they were before: ${lifted.length}. ${why}`);
      return { recall: code, lots: lifted.map(({ lot }) => lot.code).sort(), kept };
    });
  }
}

/** The longest a text of the record may be is 5000. */
const NAMED_MOST = 30;

/** What a hold did, by name, for the record: most of all what the plan and orders lost. */
function heldText(lots: readonly string[], freed: readonly BrokenPromise[], batches: readonly string[]): string {
  const named = (what: string, all: readonly string[]) => {
    const more = all.length > NAMED_MOST ? ` and ${all.length - NAMED_MOST} more` : '';
    return `${what}: ${all.length}${all.length === 0 ? '' : ` (${all.slice(0, NAMED_MOST).join(', ')}${more})`}.`;
  };
  const promises = freed.map(
    ({ item, batch, order, needOn }) =>
      `${item} for ${batch === null ? `order ${order}` : `batch ${batch}`} on ${needOn}`,
  );
  return [
    named('Lots held', lots),
    named('Promises given back', promises),
    named('Batches at the bench paused', batches),
  ].join(' ');
}

const isHeldNow = (status: string, onHand: number) => (status === 'released' || status === 'quarantine') && onHand > 0;

function effectsOf(
  recall: string,
  of: { held: HoldEffects['lots']; others: string[]; batches: readonly AtBench[]; freed: readonly BrokenPromise[] },
): HoldEffects {
  const orders = new Set(of.freed.flatMap(({ order }) => (order === null ? [] : [order])));
  return {
    recall,
    lots: of.held,
    alreadyHeld: of.others.sort(),
    batches: of.batches.map(({ batch, item, status }) => ({ batch, item, status })),
    freed: [...of.freed],
    orders: [...orders].sort(),
  };
}

/** Batches that are not closed yet and took of these lots. */
async function batchesAtBench(tx: EntityManager, lotIds: readonly number[], isLocking = false): Promise<AtBench[]> {
  await lookUp(tx);
  return tx.query<AtBench[]>(
    `select b.id, b.code as batch, i.code as item, b.status, coalesce((select e.kind = 'pause' from bench_entry e
       where e.batch_id = b.id and e.kind in ('pause', 'resume') order by e.id desc limit 1), false) as "isPaused"
     from batch b join item i on i.id = b.item_id
     where b.status in ('reserved', 'weighed') and b.id in (select m.batch_id from standing_movement m
       where m.lot_id = any($1::bigint[]) and m.cause = 'consumption')
     order by b.id ${isLocking ? 'for update of b' : ''}`,
    [lotIds],
  );
}

/** Of these lots, which another recall that is open covers: by lot, its code. */
async function coveredElsewhere(
  tx: EntityManager,
  recallId: number,
  lotIds: readonly number[],
): Promise<Map<number, string>> {
  const rows = await tx.query<{ lotId: number; code: string }[]>(
    `select s.lot_id as "lotId", min(r.code) as code from recall_scope s join recall r on r.id = s.recall_id
     where s.lot_id = any($2::bigint[]) and r.id <> $1 and not r.is_drill
       and coalesce((select e.kind <> 'closed' from recall_entry e where e.recall_id = r.id
         and e.kind in ('closed', 'reopened') order by e.id desc limit 1), true)
     group by 1`,
    [recallId, lotIds],
  );
  return new Map(rows.map(({ lotId, code }) => [lotId, code]));
}
