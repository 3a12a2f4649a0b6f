import type { EntityManager } from 'typeorm';
import { QUANTITY_MAX } from './rows.js';
import type { OrderRow } from './rows.js';

/** Rows sent to the database at once. */
export const CHUNK_ROWS = 2000;

/** A row on its way; a bad one only counts among the occurrences of its code. */
export interface StagedRow extends OrderRow {
  bad: boolean;
}

/** One import at a time: two of the same file at once would both find its orders new. */
const IMPORT_LOCK = 7_301_420;

/** Makes the table the file's rows go to; it is gone at the end of the transaction. */
export async function openStage(tx: EntityManager): Promise<void> {
  await tx.query('select pg_advisory_xact_lock($1)', [IMPORT_LOCK]);
  await tx.query(`
    create temp table import_row (
      line int not null, channel text not null, number text not null, code text not null, quantity bigint not null,
      fulfilled bigint, ship_by date, not_before date, customer text, placed_on date, waiting boolean,
      cancelled boolean not null, weight int, urgent boolean, bad boolean not null
    ) on commit drop`);
}

export async function stageRows(tx: EntityManager, rows: readonly StagedRow[]): Promise<void> {
  if (rows.length === 0) return;
  const column = <K extends keyof StagedRow>(key: K): StagedRow[K][] => rows.map((row) => row[key]);
  await tx.query(
    `insert into import_row
     select * from unnest($1::int[], $2::text[], $3::text[], $4::text[], $5::bigint[], $6::bigint[], $7::date[],
       $8::date[], $9::text[], $10::date[], $11::boolean[], $12::boolean[], $13::int[], $14::boolean[], $15::boolean[])`,
    [
      column('line'),
      column('channel'),
      column('number'),
      column('code'),
      column('quantity'),
      column('fulfilled'),
      column('shipBy'),
      column('notBefore'),
      column('customer'),
      column('placedOn'),
      column('waiting'),
      column('cancelled'),
      column('weight'),
      column('urgent'),
      column('bad'),
    ],
  );
}

/**
 * Says of each staged row what it means here, in the table import_line: its item, its occurrence, the line of ours it is,
 * what that line should become, and its outcome:
 * bad (why stands in fault), cancellation, known, amendment, fulfilled (new, but sent already), new.
 * Locks the orders and lines it found, in ascending order, until the end of the transaction.
 */
export async function resolveRows(tx: EntityManager): Promise<void> {
  await tx.query('analyze import_row (channel, number, code)');
  await tx.query(LOCK_ORDERS);
  await tx.query(LOCK_LINES);
  await tx.query(RESOLVE, [QUANTITY_MAX]);
  // only what the next statements join and filter by: all columns would take as long as the rest
  await tx.query('analyze import_line (line, channel, number, code, line_id, outcome)');
  await tx.query(ORDERS);
  await tx.query('analyze import_order');
}

const LOCK_ORDERS = `
  with locked as (
    select o.id from customer_order o
    where exists (select from import_row r where r.channel = o.channel and r.number = o.number)
    order by o.id for update)
  select count(*) from locked`;

const LOCK_LINES = `
  with locked as (
    select l.id from order_line l
    where l.order_id in (select o.id from customer_order o join import_row r using (channel, number))
    order by l.id for update)
  select count(*) from locked`;

/*
 * A row that takes back (a negative quantity) is counted apart, so that it does not shift the lines. Where a lowered
 * quantity meets units cancelled before, it takes those first: the shop counts them as gone already. A missing ship-by
 * never changes one we have. Nothing falls below what is shipped.
 */
const RESOLVE = `
  create temp table import_line on commit drop as
  with meant as (
    select c.channel, c.code, coalesce(mapped.id, same.id) as item_id, coalesce(mapped.code, same.code) as item,
      coalesce(mapped.measure, same.measure) as measure, coalesce(s.units, 1) as units
    from (select distinct channel, code from import_row) c
      left join shop_code s on s.channel = c.channel and s.code = c.code
      left join item mapped on mapped.id = s.item_id
      left join item same on s.item_id is null and same.code = upper(c.code)
  ), counted as (
    select r.*, quantity < 0 as takes_back,
      row_number() over (partition by channel, number, code, quantity < 0 order by line)::int as occurrence,
      first_value(lower(customer)) over (partition by channel, number order by bad or customer is null, line)
        as first_customer
    from import_row r
  ), met as (
    select r.*, m.item_id, m.item, m.measure, m.units, abs(r.quantity) * m.units as total,
      o.id as order_id, o.status as order_status, l.id as line_id, l.item_id as was_item_id, was.code as was_item,
      l.quantity as was_quantity, l.shipped as was_shipped, l.cancelled as was_cancelled, l.ship_by as was_ship_by,
      l.not_before as was_not_before,
      greatest(coalesce(l.shipped, 0), least(coalesce(r.fulfilled, 0), r.quantity) * m.units) as to_shipped
    from counted r
      join meant m on m.channel = r.channel and m.code = r.code
      left join customer_order o on o.channel = r.channel and o.number = r.number
      left join order_line l
        on l.order_id = o.id and l.shop_code = r.code and l.occurrence = r.occurrence and not r.takes_back
      left join item was on was.id = l.item_id
  ), sized as (
    select *, greatest(total, to_shipped) as to_quantity,
      coalesce(ship_by, greatest(was_ship_by, not_before)) as to_ship_by,
      coalesce(order_status = 'cancelled', false) as closed,
      not cancelled and not takes_back and (coalesce(fulfilled, 0) < quantity or line_id is not null) as counts
    from met
  ), aimed as (
    select *, coalesce(not_before, case when was_not_before is not null then least(was_not_before, to_ship_by) end)
        as to_not_before,
      least(to_quantity - to_shipped, greatest(0, was_cancelled - greatest(0, was_quantity - to_quantity))) as to_cancelled,
      case
        when bad then 'row'
        when lower(customer) <> first_customer then 'customer-differs'
        when counts and item_id is null then 'unknown-code'
        when counts and measure = 'weighed' then 'weighed-item'
        when total > $1 then 'too-large'
        when counts and not closed and was_item_id <> item_id and was_shipped > 0 then 'shipped-as-another'
      end as fault
    from sized
  )
  select *, 0::bigint as taken,
    case
      when fault is not null then 'bad'
      when cancelled or takes_back then 'cancellation'
      when closed then case when was_quantity = total then 'known' else 'cancellation' end
      when line_id is not null then case
        when (was_item_id, was_quantity, was_shipped, was_cancelled, was_ship_by, was_not_before)
          is distinct from (item_id, to_quantity, to_shipped, to_cancelled, to_ship_by, to_not_before) then 'amendment'
        else 'known' end
      when fulfilled >= quantity then 'fulfilled'
      else 'new'
    end as outcome
  from aimed`;

/* What the file says of each order, from the rows that stand; what we had of it is kept for the report. */
const ORDERS = `
  create temp table import_order on commit drop as
  with said as (
    select channel, number, min(order_id) as order_id, min(line) as line, min(line) filter (where stated) as first_stated,
      min(placed_on) filter (where stated) as placed_on,
      (array_agg(customer order by line) filter (where stated and customer is not null))[1] as customer,
      bool_or(waiting) filter (where stated) as waiting,
      max(weight) filter (where stated) as weight, bool_or(urgent) filter (where stated) as urgent,
      bool_and(outcome = 'fulfilled') filter (where stated) as all_fulfilled,
      coalesce(bool_or(outcome = 'new' or (outcome = 'fulfilled' and item_id is not null)), false) as has_new_lines
    from (select *, outcome in ('new', 'known', 'amendment', 'fulfilled') and not closed as stated from import_line) l
    where outcome <> 'bad'
    group by channel, number
  )
  select s.*, o.status as was_status, o.placed_on as was_placed_on, c.name as was_customer, o.weight as was_weight,
    o.urgent as was_urgent
  from said s left join customer_order o on o.id = s.order_id left join customer c on c.id = o.customer_id`;
