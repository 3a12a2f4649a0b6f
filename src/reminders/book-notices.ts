import type { EntityManager } from 'typeorm';
import type { DueNotice } from '../messages/reminders.service.js';
import { longDay, shortDay } from '../ui/dates.js';
import { count } from '../ui/words.js';

/** What the books say is due, without any plan: each kind in one statement, however much there is. */
export async function bookNotices(
  tx: EntityManager,
  today: string,
  limits: { countDays: number; limitMonths: number },
): Promise<DueNotice[]> {
  return [
    ...(await lateDeliveries(tx, today)),
    ...(await restsOver(tx, today)),
    ...(await samples(tx, today)),
    ...(limits.limitMonths === 0 ? [] : await certificates(tx, today, limits.limitMonths)),
    ...(limits.countDays === 0 ? [] : await counts(tx, today, limits.countDays)),
  ];
}

async function lateDeliveries(tx: EntityManager, today: string): Promise<DueNotice[]> {
  const rows = await tx.query<{ code: string; supplier: string; expectedOn: string; items: string[] | null }[]>(
    `select d.code, s.name as supplier, d.expected_on as "expectedOn",
       (select array_agg(distinct i.name order by i.name) from delivery_line l join item i on i.id = l.item_id
         where l.delivery_id = d.id and l.received < l.quantity) as items
     from delivery d join supplier s on s.id = d.supplier_id
     where d.status = 'expected' and d.expected_on < $1 order by d.expected_on, d.code`,
    [today],
  );
  return rows.map(({ code, supplier, expectedOn, items }) => ({
    kind: 'late-delivery',
    // once it was given a new day, being late again is something new
    cause: `late-delivery/${code}/${expectedOn}`,
    title: `${code} from ${supplier} has not come: it was expected on ${shortDay(expectedOn)}`,
    detail: `${(items ?? []).slice(0, 5).join(', ')}. Until it has a new day, no plan counts on it.`,
    link: '/reorder',
    dueOn: today,
  }));
}

async function restsOver(tx: EntityManager, today: string): Promise<DueNotice[]> {
  const rows = await tx.query<{ code: string; name: string; readyOn: string }[]>(
    `select b.code, i.name, b.ready_on as "readyOn" from batch b join item i on i.id = b.item_id
     where b.status = 'resting' and b.ready_on <= $1 order by b.ready_on, b.code`,
    [today],
  );
  return rows.map(({ code, name, readyOn }) => ({
    kind: 'rest-over',
    cause: `rest-over/${code}`,
    title: `${name}, batch ${code}, has rested: look at it and release it`,
    detail: `It was to rest until ${longDay(readyOn)}.`,
    link: `/batches/${encodeURIComponent(code)}`,
    dueOn: readyOn,
  }));
}

async function samples(tx: EntityManager, today: string): Promise<DueNotice[]> {
  const rows = await tx.query<{ id: number; code: string; name: string; place: string; discardOn: string }[]>(
    `select k.id, b.code, i.name, k.place, k.discard_on as "discardOn"
     from kept_sample k join batch b on b.id = k.batch_id join item i on i.id = b.item_id
     where k.discarded_on is null and k.discard_on <= $1 order by k.discard_on, k.id`,
    [today],
  );
  return rows.map(({ id, code, name, place, discardOn }) => ({
    kind: 'sample',
    cause: `sample/${id}`,
    title: `The sample of ${name}, batch ${code}, may be thrown away`,
    detail: `It stands at ${place} and was to be kept until ${longDay(discardOn)}.`,
    link: `/batches/${encodeURIComponent(code)}`,
    dueOn: discardOn,
  }));
}

async function certificates(tx: EntityManager, today: string, months: number): Promise<DueNotice[]> {
  const rows = await tx.query<{ code: string; name: string; dated: string; due: string }[]>(
    `select i.code, i.name, min(u.dated) as dated, (min(u.dated) + make_interval(months => $2))::date as due
     from use_limit u join item i on i.id = u.item_id
     where u.dated <= ($1::date - make_interval(months => $2))::date and i.policy <> 'discontinued'
     group by i.id order by 4, i.code`,
    [today, months],
  );
  return rows.map(({ code, name, dated, due }) => ({
    kind: 'certificate',
    cause: `certificate/${code}/${dated}`,
    title: `Look up the use limits of ${name} again`,
    detail: `The oldest is of ${longDay(dated)}. A newer certificate may say less.`,
    link: `/shelf/items/${code}`,
    dueOn: due,
  }));
}

async function counts(tx: EntityManager, today: string, days: number): Promise<DueNotice[]> {
  const rows = await tx.query<{ place: string; lots: number; since: string; due: string }[]>(
    `select place, count(*) as lots, min(counted_on) as since, (min(counted_on) + $2::int) as due from (
       select l.place, greatest(l.came_on, max(c.counted_on)) as counted_on
       from lot l left join shelf_count_line cl on cl.lot_id = l.id left join shelf_count c on c.id = cl.shelf_count_id
       where l.on_hand > 0 group by l.id) held
     where counted_on <= $1::date - $2::int group by place order by place`,
    [today, days],
  );
  return rows.map(({ place, lots, since, due }) => ({
    kind: 'count',
    cause: `count/${place}`,
    title: `Count ${place === '' ? 'what has no place' : place}: ${count(lots, 'lot')}`,
    detail: `The longest was not counted since ${longDay(since)}.`,
    link: `/shelf/count?place=${encodeURIComponent(place)}`,
    dueOn: due,
  }));
}
