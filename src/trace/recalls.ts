import type { EntityManager } from 'typeorm';
import { notFound, Problem } from '../platform/problem.js';
import type { Recipient, RecallListView, RecallPage, RecallView } from './recall.schema.js';
import { lotsById } from './trace.service.js';
import { byText } from '../kernel/measure/text-order.js';
import { LOTS_MAX, lookUp, shippedRows, walkLots } from './walk.js';

export interface RecallRow {
  id: number;
  code: string;
  isDrill: boolean;
  lotId: number;
  lot: string;
  why: string;
  openedOn: string;
  status: 'open' | 'closed';
}

/* The last word on it. */
const STATUS = `case when (select e.kind from recall_entry e where e.recall_id = r.id and e.kind in ('closed', 'reopened')
  order by e.id desc limit 1) = 'closed' then 'closed' else 'open' end`;

const ROW = `
  select r.id, r.code, r.is_drill as "isDrill", r.lot_id as "lotId", l.code as lot, r.why, r.opened_on as "openedOn",
    ${STATUS} as status
  from recall r join lot l on l.id = r.lot_id`;

export async function recallRow(tx: EntityManager, code: string): Promise<RecallRow> {
  const rows = await tx.query<RecallRow[]>(`${ROW} where r.code = $1`, [code]);
  if (!rows[0]) throw notFound('recall', code);
  return rows[0];
}

/** A recall nobody else adds to until this act ends. Throws a 404 problem. */
export async function lockRecall(tx: EntityManager, code: string): Promise<RecallRow> {
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.recall'), hashtext($1))`, [code]);
  return recallRow(tx, code);
}

/**
 * Everything a lot reached. A scope that is cut off would leave somebody out, so one that is too large is refused: 409
 * `too-large`.
 */
export async function scopeOf(tx: EntityManager, lotId: number): Promise<number[]> {
  await lookUp(tx);
  const ids = await walkLots(tx, 'forward', [lotId]);
  if (ids.length <= LOTS_MAX) return ids;
  throw new Problem({
    status: 409,
    code: 'too-large',
    detail: `More than ${LOTS_MAX} lots come of this one, more than one recall can hold.`,
  });
}

/** Adds to the scope what has come of the suspected lot since, such as what a batch at the bench then was made of it. */
export async function widenScope(tx: EntityManager, recall: RecallRow): Promise<number[]> {
  const ids = await scopeOf(tx, recall.lotId);
  const added = await tx.query<{ lot_id: number }[]>(
    `insert into recall_scope (recall_id, lot_id) select $1, unnest($2::bigint[]) on conflict do nothing returning lot_id`,
    [recall.id, ids],
  );
  return added.map(({ lot_id: id }) => id);
}

export async function scopeIds(tx: EntityManager, recallId: number): Promise<number[]> {
  const rows = await tx.query<{ id: number }[]>(
    'select lot_id as id from recall_scope where recall_id = $1 order by lot_id',
    [recallId],
  );
  return rows.map(({ id }) => id);
}

export function addEntry(tx: EntityManager, recallId: number, kind: string, text: string): Promise<unknown> {
  return tx.query('insert into recall_entry (recall_id, kind, text) values ($1, $2, $3)', [recallId, kind, text]);
}

const RESULT = `(select json_build_object('reconciledPpb', x.reconciled_ppb, 'traceMs', x.trace_ms, 'tookMs', x.took_ms,
    'lots', x.lots, 'customers', x.customers, 'parcels', x.parcels)
  from recall_result x where x.recall_id = r.id order by x.id desc limit 1)`;

export async function recallPageOf(
  tx: EntityManager,
  query: { kind?: 'recall' | 'drill'; after?: string; limit: number },
): Promise<RecallPage> {
  const rows = await tx.query<RecallPage['recalls']>(
    `select r.code, r.is_drill as "isDrill", ${STATUS} as status, l.code as lot, r.why, r.opened_on as "openedOn",
       ${RESULT} as result
     from recall r join lot l on l.id = r.lot_id
     where r.code > $1 and ($2::boolean is null or r.is_drill = $2) order by r.code limit $3`,
    [query.after ?? '', query.kind === undefined ? null : query.kind === 'drill', query.limit + 1],
  );
  const recalls = rows.slice(0, query.limit);
  return { recalls, next: rows.length > query.limit ? recalls.at(-1)!.code : null };
}

/** Lots of which this recall's own hold stands: held by it, not lifted, and nobody decided otherwise since. */
export const OWN_HOLDS = `
  select h.id, h.lot_id, h.from_status from recall_hold h
  where h.recall_id = $1 and not exists (select from recall_lift t where t.hold_id = h.id)
    and h.state_change_id = (select max(s.id) from state_change s where s.subject = 'lot' and s.subject_id = h.lot_id)`;

/** Throws a 404 problem. */
export async function recallViewOf(tx: EntityManager, code: string): Promise<RecallView> {
  const recall = await recallRow(tx, code);
  const [row] = await tx.query<Pick<RecallView, 'complaints' | 'entries' | 'result' | 'openedBy'>[]>(
    `select r.created_by as "openedBy",
       coalesce((select json_agg(c.code order by c.code) from recall_complaint rc join complaint c on c.id = rc.complaint_id
         where rc.recall_id = r.id), '[]') as complaints,
       coalesce((select json_agg(json_build_object('kind', e.kind, 'text', e.text, 'by', e.created_by,
           'at', to_char(e.created_at at time zone 'utc', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')) order by e.id)
         from recall_entry e where e.recall_id = r.id), '[]') as entries,
       ${RESULT} as result
     from recall r where r.id = $1`,
    [recall.id],
  );
  const lots = await lotsById(tx, await scopeIds(tx, recall.id));
  const holds = await tx.query<{ id: number; lot_id: number; from_status: string }[]>(OWN_HOLDS, [recall.id]);
  const own = new Set(holds.map(({ lot_id: id }) => id));
  const list = await recallListOf(tx, recall);
  const { id: _, lotId: __, ...head } = recall;
  return {
    ...head,
    ...row!,
    scope: [...lots]
      .map(([id, lot]) => {
        const { code: lotCode, item, name, kind, measure, status, onHand, reserved } = lot;
        return { code: lotCode, item, name, kind, measure, status, onHand, reserved, isHeldByThis: own.has(id) };
      })
      .sort((a, b) => byText(a.code, b.code)),
    recipients: list.recipients.length,
    written: list.recipients.filter(({ writtenOn }) => writtenOn !== null).length,
    answered: list.recipients.filter(({ isAnswered }) => isAnswered).length,
    sent: list.sent,
    returned: list.returned,
    accountedFor: list.recipients.reduce((sum, one) => sum + accountedFor(one), 0),
  };
}

/** Of what one recipient got, what they account for or what came back, lot by lot, never more than was sent. */
function accountedFor({ parcels, answers }: Recipient): number {
  const sums = new Map<string, { sent: number; back: number }>();
  for (const { lot, quantity, returned } of parcels) {
    const known = sums.get(lot) ?? { sent: 0, back: 0 };
    sums.set(lot, { sent: known.sent + quantity, back: known.back + returned });
  }
  let sum = 0;
  for (const [lot, { sent, back }] of sums) {
    const said = answers.find((answer) => answer.lot === lot);
    const known = said ? said.used + said.kept + said.destroyed + said.sentBack : 0;
    sum += Math.min(sent, Math.max(known, back));
  }
  return sum;
}

interface ContactRow {
  orderId: number;
  contact: string;
  writtenOn: string | null;
}
type AnswerRow = Recipient['answers'][number] & { orderId: number; lotId: number };

/**
 * Who got what of a recall's lots, by customer and order, with how to reach them, whether they were written to, and their
 * last word on each lot: a handful of statements for any number of parcels.
 */
export async function recallListOf(tx: EntityManager, recall: Pick<RecallRow, 'id' | 'code'>): Promise<RecallListView> {
  await lookUp(tx);
  const ids = await scopeIds(tx, recall.id);
  const lots = await lotsById(tx, ids);
  const rows = await shippedRows(tx, ids);
  const orderIds = [...new Set(rows.map(({ orderId }) => orderId))];
  const contacts = await tx.query<ContactRow[]>(
    `select o.id as "orderId", coalesce(c.contact, '') as contact, (select max(w.sent_on) from recall_letter w
       where w.recall_id = $1 and w.order_id = o.id) as "writtenOn"
     from customer_order o left join customer c on c.id = o.customer_id where o.id = any($2::bigint[])`,
    [recall.id, orderIds],
  );
  const answers = await tx.query<AnswerRow[]>(
    `select distinct on (a.order_id, a.lot_id) a.order_id as "orderId", a.lot_id as "lotId", l.code as lot,
       a.answered_on as "answeredOn", a.received, a.used, a.kept, a.destroyed, a.sent_back as "sentBack", a.note
     from recall_answer a join lot l on l.id = a.lot_id where a.recall_id = $1
     order by a.order_id, a.lot_id, a.id desc`,
    [recall.id],
  );
  const byOrder = new Map(contacts.map(({ orderId, contact, writtenOn }) => [orderId, { contact, writtenOn }]));
  const said = new Map<number, Recipient['answers']>();
  for (const { orderId, lotId: _, ...answer } of answers) said.set(orderId, [...(said.get(orderId) ?? []), answer]);
  const recipients = new Map<number, Recipient>();
  for (const row of rows) {
    let one = recipients.get(row.orderId);
    if (!one) {
      const order = `${row.channel}/${row.number}`;
      const known = { ...byOrder.get(row.orderId)!, answers: said.get(row.orderId) ?? [] };
      one = { order, customer: row.customer, ...known, sent: 0, returned: 0, parcels: [], isAnswered: false };
      recipients.set(row.orderId, one);
    }
    const { item, shipmentId: shipment, shippedOn, quantity, returned } = row;
    one.parcels.push({ lot: lots.get(row.lotId)!.code, item, shipment, shippedOn, quantity, returned });
    one.sent += quantity;
    one.returned += returned;
  }
  const list = [...recipients.values()].sort(
    (a, b) => byText(a.customer ?? '', b.customer ?? '') || byText(a.order, b.order),
  );
  for (const one of list)
    one.isAnswered = one.parcels.every(({ lot }) => one.answers.some((answer) => answer.lot === lot));
  return {
    recall: recall.code,
    parcels: rows.length,
    sent: list.reduce((sum, { sent }) => sum + sent, 0),
    returned: list.reduce((sum, { returned }) => sum + returned, 0),
    recipients: list,
  };
}
