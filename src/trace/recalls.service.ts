import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { dayOfAct } from '../stock/day-of-act.js';
import { accountsById, overall } from './account.service.js';
import { lotIdOfScan, nextCode } from './complaints.js';
import type {
  AnswerCreate,
  LettersCreate,
  LettersDone,
  RecallCreate,
  RecallEntryCreate,
  RecallListView,
  RecallPage,
  RecallQuery,
  RecallView,
  RecallWhy,
} from './recall.schema.js';
import {
  addEntry,
  lockRecall,
  recallListOf,
  recallPageOf,
  recallRow,
  recallViewOf,
  scopeIds,
  scopeOf,
  widenScope,
} from './recalls.js';
import type { RecallRow } from './recalls.js';

/** What is done once a lot is suspected, until nobody has any of it left unaccounted for. */
@Injectable()
export class RecallsService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  list(query: RecallQuery): Promise<RecallPage> {
    return this.database.read((tx) => recallPageOf(tx, query));
  }

  get(code: string): Promise<RecallView> {
    return this.database.read((tx) => recallViewOf(tx, code));
  }

  /** Who got what, and how to reach them. Throws a 404 problem. */
  recallList(code: string): Promise<RecallListView> {
    return this.database.read(async (tx) => recallListOf(tx, await recallRow(tx, code)));
  }

  /** Opens a recall of a lot and of everything it reached. Nothing is held by that alone. */
  async open(who: string, body: RecallCreate): Promise<RecallView> {
    const today = await this.clock.today();
    return this.database.act({ who, why: body.why }, async (tx) => {
      const lotId = await lotIdOfScan(tx, body.lot, '/lot');
      const complaints = await complaintIds(tx, body.complaints);
      const code = await nextCode(tx, 'recall', 'R', today);
      const { id } = await insertRecall(tx, { code, lotId, why: body.why, openedOn: today, seed: null });
      for (const complaintId of complaints)
        await tx.query('insert into recall_complaint (recall_id, complaint_id) values ($1, $2)', [id, complaintId]);
      await addEntry(tx, id, 'opened', body.why);
      return recallViewOf(tx, code);
    });
  }

  /** Adds a decision or a note to the record. */
  note(who: string, code: string, { kind, text }: RecallEntryCreate): Promise<RecallView> {
    return this.database.act({ who }, async (tx) => {
      const recall = await lockOpen(tx, code);
      await addEntry(tx, recall.id, kind, text);
      return recallViewOf(tx, code);
    });
  }

  /** Looks again what has come of the suspected lot, and takes it into the scope. */
  widen(who: string, code: string): Promise<RecallView> {
    return this.database.act({ who }, async (tx) => {
      const recall = await lockOpen(tx, code);
      const added = await widenScope(tx, recall);
      if (added.length > 0) await addEntry(tx, recall.id, 'scope', `${added.length} more lots have come of it.`);
      return recallViewOf(tx, code);
    });
  }

  /** Writes down that letters went out: to the orders named, or to all recipients who had none. */
  async write(who: string, code: string, body: LettersCreate): Promise<LettersDone> {
    const sentOn = dayOfAct(await this.clock.today(), body.sentOn, '/sentOn');
    return this.database.act({ who }, async (tx) => {
      const recall = await lockOpen(tx, code);
      const { recipients } = await recallListOf(tx, recall);
      const known = new Set(recipients.map(({ order }) => order));
      const named = body.orders?.map(({ channel, number }) => `${channel}/${number}`);
      const stranger = named?.findIndex((order) => !known.has(order)) ?? -1;
      if (stranger >= 0) throw invalid(`/orders/${stranger}`, 'Nothing of this recall was sent for this order.');
      const orders = named ?? recipients.filter(({ writtenOn }) => writtenOn === null).map(({ order }) => order);
      await tx.query(
        `insert into recall_letter (recall_id, order_id, sent_by, sent_on)
         select $1, o.id, $3, $4 from customer_order o where o.channel || '/' || o.number = any($2::text[])`,
        [recall.id, orders, body.sentBy, sentOn],
      );
      if (orders.length > 0)
        await addEntry(tx, recall.id, 'letters', `${orders.length} recipients written to by ${body.sentBy}.`);
      return { recall: code, written: orders.length };
    });
  }

  /** Writes down what a recipient says of one lot they got; their last word counts. */
  async answer(who: string, code: string, body: AnswerCreate): Promise<RecallView> {
    const answeredOn = dayOfAct(await this.clock.today(), body.answeredOn, '/answeredOn');
    return this.database.act({ who }, async (tx) => {
      const recall = await lockOpen(tx, code);
      const { channel, number } = body.order;
      const [sent] = await tx.query<{ orderId: number; lotId: number }[]>(
        `select o.id as "orderId", s.lot_id as "lotId" from recall_scope s join lot l on l.id = s.lot_id and l.code = $4
           join standing_movement m on m.lot_id = s.lot_id and m.cause = 'shipment' join order_line ol on ol.id = m.order_line_id
           join customer_order o on o.id = ol.order_id and o.channel = $2 and o.number = $3
         where s.recall_id = $1 limit 1`,
        [recall.id, channel, number, body.lot],
      );
      if (!sent) throw invalid('/lot', `Nothing of lot ${body.lot} was sent for order ${number} within this recall.`);
      const { received, used, kept, destroyed, sentBack, note } = body;
      await tx.query(
        `insert into recall_answer (recall_id, order_id, lot_id, answered_on, received, used, kept, destroyed, sent_back, note)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
        [recall.id, sent.orderId, sent.lotId, answeredOn, received, used, kept, destroyed, sentBack, note],
      );
      return recallViewOf(tx, code);
    });
  }

  /** Closes a recall with what was decided, and keeps how far everything was reconciled when it was. */
  close(who: string, code: string, { why }: RecallWhy): Promise<RecallView> {
    return this.database.act({ who, why }, async (tx) => {
      const recall = await lockOpen(tx, code);
      await addEntry(tx, recall.id, 'closed', why);
      await keepResult(tx, recall, performance.now());
      return recallViewOf(tx, code);
    });
  }

  /** Takes up again what was closed too early. Throws 409 `wrong-state`. */
  reopen(who: string, code: string, { why }: RecallWhy): Promise<RecallView> {
    return this.database.act({ who, why }, async (tx) => {
      const recall = await lockRecall(tx, code);
      if (recall.isDrill || recall.status === 'open') throw conflict('wrong-state', `${code} is no closed recall.`);
      await addEntry(tx, recall.id, 'reopened', why);
      return recallViewOf(tx, code);
    });
  }
}

/** Throws 404, and 409 `wrong-state` for a drill, which only looks, and for what is closed. */
export async function lockOpen(tx: EntityManager, code: string): Promise<RecallRow> {
  const recall = await lockRecall(tx, code);
  if (recall.isDrill) throw conflict('wrong-state', `${code} is a drill: it only looks.`);
  if (recall.status === 'closed') throw conflict('wrong-state', `Recall ${code} is closed. Open it again first.`);
  return recall;
}

/** Writes a recall or a drill with its scope; answers its id and the lots in it. */
export async function insertRecall(
  tx: EntityManager,
  recall: { code: string; lotId: number; why: string; openedOn: string; seed: number | null },
): Promise<{ id: number; lotIds: number[] }> {
  const [row] = await tx.query<{ id: number }[]>(
    'insert into recall (code, is_drill, lot_id, seed, opened_on, why) values ($1, $2, $3, $4, $5, $6) returning id',
    [recall.code, recall.seed !== null, recall.lotId, recall.seed, recall.openedOn, recall.why],
  );
  const lotIds = await scopeOf(tx, recall.lotId);
  await tx.query('insert into recall_scope (recall_id, lot_id) select $1, unnest($2::bigint[])', [row!.id, lotIds]);
  return { id: row!.id, lotIds };
}

/**
 * Keeps how far all of its lots are reconciled. A count of the shelf confirms something only from the day the recall was
 * opened on. `began` is when the work on it began, `traced` when its genealogy and its recipients were known.
 */
export async function keepResult(tx: EntityManager, recall: RecallRow, began: number, traced = began): Promise<void> {
  const ids = await scopeIds(tx, recall.id);
  const list = await recallListOf(tx, recall);
  const accounts = await accountsById(tx, ids, recall.openedOn);
  const customers = new Set(list.recipients.map(({ customer, order }) => customer ?? order)).size;
  await tx.query(
    `insert into recall_result (recall_id, trace_ms, took_ms, lots, customers, parcels, reconciled_ppb, account)
     values ($1, $2, $3, $4, $5, $6, $7, $8)`,
    [
      recall.id,
      Math.ceil(traced - began),
      Math.ceil(performance.now() - began),
      ids.length,
      customers,
      list.parcels,
      overall(accounts),
      JSON.stringify(accounts),
    ],
  );
}

async function complaintIds(tx: EntityManager, codes: readonly string[]): Promise<number[]> {
  const rows = await tx.query<{ id: number; code: string }[]>(
    'select id, code from complaint where code = any($1::text[])',
    [codes],
  );
  const missing = codes.find((code) => !rows.some((row) => row.code === code));
  if (missing !== undefined) throw notFound('complaint', missing);
  return rows.map(({ id }) => id);
}
