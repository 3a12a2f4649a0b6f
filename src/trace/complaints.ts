import type { EntityManager } from 'typeorm';
import { tradeIdOf } from '../kernel/trace/gs1.js';
import { invalid, notFound } from '../platform/problem.js';
import type { ComplaintSummary, ComplaintView, Harm, Harmed } from './complaint.schema.js';

/**
 * What to do first. Usual cautions, common practice, no source; what must be reported, to whom and by when is the law's of
 * where the goods were sold.
 */
export function urgesOf(harm: Harm, harmed: Harmed): string[] {
  if (harm === 'none') return [];
  const first = {
    skin: 'Somebody had a skin reaction: they stop using it and see a doctor. Keep the pack and ask for a photo.',
    fire: 'Something burned: nobody lights it again. Ask what happened around it, and keep what is left of it.',
    glass: 'Glass broke: nobody uses or eats from near it. Ask for the pieces and how it was packed.',
    other: 'Harm was reported: nobody uses it any more. Ask what happened and keep what is left of it.',
  }[harm];
  return [
    first,
    'Hold what is left of the lot, and of everything that shares what you suspect, before you go on.',
    ...(harmed === 'property' ? [] : ['Seek advice: a safety assessor, a doctor, your insurer.']),
    'A serious effect or a dangerous product may have to be reported to the authority, in some places at once. Ask your local authority what holds for you: this program does not know.',
  ];
}

/** The code of a lot in what a scanner read: our own address of it, a GS1 link or element string, or the code itself. */
export function lotCodeOfScan(text: string): string {
  const scanned = text.trim();
  if (/^https?:\/\//i.test(scanned)) {
    const lot = tradeIdOf(scanned)?.lot;
    if (lot !== undefined) return lot;
    const last =
      scanned
        .split(/[?#]/, 1)[0]!
        .split('/')
        .findLast((part) => part !== '') ?? '';
    try {
      return decodeURIComponent(last);
    } catch {
      return last;
    }
  }
  const bracketed = /\(10\)([^(]{1,20})/.exec(scanned);
  // a number of an item, perhaps a date, then the lot, which ends with the text or with the separator a scanner sends
  const first = scanned.split('\u001d').find((part) => part !== '') ?? '';
  const bare = /^(?:\][A-Za-z]\d)?01\d{14}(?:1[1-7]\d{6})*10(.{1,20})$/.exec(first);
  return bracketed?.[1] ?? bare?.[1] ?? scanned;
}

export async function lotIdOfScan(tx: EntityManager, text: string, pointer: string): Promise<number> {
  const code = lotCodeOfScan(text);
  const rows = await tx.query<{ id: number }[]>(
    'select id from lot where code = $1 or lower(code) = lower($1) order by code <> $1 limit 1',
    [code],
  );
  if (!rows[0]) throw invalid(pointer, `There is no lot ${code}.`, 'unknown-lot');
  return rows[0].id;
}

/** A complaint, locked so that what is added to it is added one after the other. Throws a 404 problem. */
export async function lockComplaint(tx: EntityManager, code: string): Promise<{ id: number }> {
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.complaint'), hashtext($1))`, [code]);
  const rows = await tx.query<{ id: number }[]>('select id from complaint where code = $1', [code]);
  if (!rows[0]) throw notFound('complaint', code);
  return rows[0];
}

/**
 * Lots a complaint may be about: those that are named; where none is, what was sent for its order, of the product it
 * names if it names one. Corrected shipments were never sent.
 */
export const COMPLAINED_LOTS = `
  select c.id as complaint_id, l.lot_id, l.is_known
  from complaint c cross join lateral (
    select c.lot_id, true as is_known where c.lot_id is not null
    union
    select e.lot_id, true from complaint_entry e where e.complaint_id = c.id and e.kind = 'lot'
    union
    select m.lot_id, false from order_line ol join standing_movement m on m.order_line_id = ol.id and m.cause = 'shipment'
    where (ol.order_id = c.order_id or ol.order_id in (select order_id from complaint_entry
        where complaint_id = c.id and kind = 'order'))
      and (c.item_id is null or ol.item_id = c.item_id) and c.lot_id is null
      and not exists (select from complaint_entry where complaint_id = c.id and kind = 'lot')
  ) l`;

/* The last word on it. */
const STATUS = `case when (select e.kind from complaint_entry e where e.complaint_id = c.id
  and e.kind in ('closed', 'reopened') order by e.id desc limit 1) = 'closed' then 'closed' else 'open' end`;
const DUE = `coalesce((select e.due_on from complaint_entry e where e.complaint_id = c.id and e.kind = 'due'
  order by e.id desc limit 1), c.due_on)`;

const SUMMARY = `
  select c.code, ${STATUS} as status, c.reported_on as "reportedOn", i.code as item, c.harm, c.harmed, c.description,
    ${DUE} as "dueOn", ${DUE} < $1::date and ${STATUS} = 'open' as "isOverdue",
    coalesce((select json_agg(distinct l.code) from (${COMPLAINED_LOTS}) x join lot l on l.id = x.lot_id
      where x.complaint_id = c.id), '[]') as lots
  from complaint c left join item i on i.id = c.item_id`;

/** One page of complaints, the newest last, of one state or of all; `today` decides what is overdue. */
export function complaintSummaries(
  tx: EntityManager,
  today: string,
  query: { status?: string; after?: string; limit: number },
): Promise<ComplaintSummary[]> {
  return tx.query<ComplaintSummary[]>(
    `${SUMMARY} where c.code > $2 and ($3::text is null or ${STATUS} = $3) order by c.code limit $4`,
    [today, query.after ?? '', query.status ?? null, query.limit],
  );
}

/** Throws a 404 problem. */
export async function complaintByCode(tx: EntityManager, today: string, code: string): Promise<ComplaintView> {
  const rows = await tx.query<(Omit<ComplaintView, 'urges' | 'createdAt'> & { createdAt: Date })[]>(
    `select s.*, c.happened_on as "happenedOn", c.reporter, c.contact, c.created_by as "createdBy",
       c.created_at as "createdAt",
       coalesce((select bool_and(x.is_known) from (${COMPLAINED_LOTS}) x where x.complaint_id = c.id), false) as "isLotKnown",
       coalesce((select json_agg(o.channel || '/' || o.number order by o.id) from customer_order o where o.id = c.order_id
         or o.id in (select order_id from complaint_entry where complaint_id = c.id)), '[]') as orders,
       coalesce((select json_agg(json_build_object('id', e.id, 'kind', e.kind, 'text', e.text, 'dueOn', e.due_on,
           'lot', l.code, 'order', o.channel || '/' || o.number, 'by', e.created_by,
           'at', to_char(e.created_at at time zone 'utc', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')) order by e.id)
         from complaint_entry e left join lot l on l.id = e.lot_id left join customer_order o on o.id = e.order_id
         where e.complaint_id = c.id), '[]') as entries,
       coalesce((select json_agg(json_build_object('id', p.id, 'type', p.type) order by p.id)
         from complaint_photo p where p.complaint_id = c.id), '[]') as photos,
       coalesce((select json_agg(r.code order by r.id) from recall_complaint rc join recall r on r.id = rc.recall_id
         where rc.complaint_id = c.id), '[]') as recalls
     from (${SUMMARY} where c.code = $2) s join complaint c on c.code = s.code`,
    [today, code],
  );
  if (!rows[0]) throw notFound('complaint', code);
  const { createdAt, ...row } = rows[0];
  return { ...row, urges: urgesOf(row.harm, row.harmed), createdAt: createdAt.toISOString() };
}

/** The next code of a kind for a day: C26-001 is the first complaint of 2026. */
export async function nextCode(
  tx: EntityManager,
  table: 'complaint' | 'recall',
  letter: string,
  day: string,
): Promise<string> {
  const prefix = `${letter}${day.slice(2, 4)}-`;
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.trace-code'), hashtext($1))`, [prefix]);
  const [row] = await tx.query<{ last: number }[]>(
    `select coalesce(max(substring(code from 5)::int), 0) as last from ${table} where code like $1 || '%'`,
    [prefix],
  );
  return prefix + String(row!.last + 1).padStart(3, '0');
}
