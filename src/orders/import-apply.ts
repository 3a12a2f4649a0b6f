import type { EntityManager } from 'typeorm';
import { freeAll, freeExcess } from './open-quantity.js';

/**
 * Writes what resolveRows found: customers, orders, lines, amendments, cancellations, then the states of the orders.
 * `today` is the day an order was placed where neither the file nor an earlier one says so.
 */
export async function applyRows(tx: EntityManager, today: string): Promise<void> {
  await tx.query(ADD_CUSTOMERS);
  await forgetPlans(tx);
  await tx.query(ADD_ORDERS, [today]);
  await tx.query(NAME_ORDERS);
  // counted before, when new orders had no id: PostgreSQL would expect no order to be met, and loop over all for each
  await tx.query('analyze import_order (order_id)');
  await forgetPlans(tx);
  await tx.query(ADD_LINES);
  await amendLines(tx);
  await cancelLines(tx);
  await tx.query(AMEND_ORDERS);
  await tx.query(CONFIRM_ORDERS);
  await tx.query(CLOSE_ORDERS);
}

/**
 * A foreign key is checked by a plan that the connection keeps. Made while there were few customers or orders, it reads all
 * of them for each row: minutes for a file of 40,000 rows.
 */
const forgetPlans = (tx: EntityManager): Promise<unknown> => tx.query('discard plans');

const ADD_CUSTOMERS = `
  insert into customer (name)
  select name from (
    select distinct on (lower(customer)) customer as name from import_order
    where customer is not null and (has_new_lines or order_id is not null)
    order by lower(customer), line) named
  where not exists (select from customer c where lower(c.name) = lower(named.name))
  on conflict do nothing`;

const ADD_ORDERS = `
  insert into customer_order (channel, number, customer_id, placed_on, status, weight, urgent)
  select i.channel, i.number, c.id, coalesce(i.placed_on, $1::date),
    case when i.all_fulfilled then 'fulfilled' when i.waiting then 'waiting' else 'confirmed' end,
    i.weight, coalesce(i.urgent, false)
  from import_order i left join customer c on lower(c.name) = lower(i.customer)
  where i.order_id is null and i.has_new_lines
  order by i.line`;

const NAME_ORDERS = `
  update import_order i set order_id = o.id
  from customer_order o where i.order_id is null and o.channel = i.channel and o.number = i.number`;

const ADD_LINES = `
  insert into order_line (order_id, shop_code, occurrence, item_id, quantity, shipped, ship_by, not_before)
  select o.id, l.code, l.occurrence, l.item_id, l.to_quantity, l.to_shipped,
    coalesce(l.ship_by, greatest(o.placed_on + c.promise_days, l.not_before)), l.not_before
  from import_line l
    join import_order i on i.channel = l.channel and i.number = l.number
    join customer_order o on o.id = i.order_id
    join channel c on c.code = l.channel
  where l.outcome in ('new', 'fulfilled') and l.item_id is not null
  order by l.line`;

async function amendLines(tx: EntityManager): Promise<void> {
  const others = await tx.query<{ line_id: number }[]>(
    `select line_id from import_line where outcome = 'amendment' and was_item_id <> item_id
       and line_id is not null`,
  );
  await freeAll(
    tx,
    others.map((row) => row.line_id),
  );
  await tx.query(`
    update order_line l set item_id = i.item_id, quantity = i.to_quantity, shipped = i.to_shipped,
      cancelled = i.to_cancelled, ship_by = i.to_ship_by, not_before = i.to_not_before
    from import_line i where i.line_id = l.id and i.outcome = 'amendment'`);
}

/** Cancelled rows close their line; rows that take back close as many units, of the first lines first. */
async function cancelLines(tx: EntityManager): Promise<void> {
  await tx.query(NOTE_SENT_BEFORE_CANCELLED);
  await tx.query(NOTE_CANCELLED);
  await tx.query(`
    update order_line l set cancelled = l.cancelled + i.taken
    from import_line i where i.line_id = l.id and i.taken > 0 and not i.takes_back`);
  await tx.query(TAKE_BACK);
  await tx.query(`
    update order_line l set cancelled = l.cancelled + t.taken from import_taken t where t.line_id = l.id and t.taken > 0`);
  await tx.query(NOTE_TAKEN_BACK);
  await tx.query(KNOWN_CANCELLATIONS);
  const touched = await tx.query<{ order_id: number }[]>(`
    select distinct l.order_id from import_order i join order_line l on l.order_id = i.order_id
      join reservation r on r.order_line_id = l.id and r.open > 0`);
  await freeExcess(
    tx,
    touched.map((row) => row.order_id),
  );
}

const NOTE_SENT_BEFORE_CANCELLED = `
  update order_line l set shipped = least(i.to_shipped, l.quantity - l.cancelled)
  from import_line i
  where i.line_id = l.id and i.outcome = 'cancellation' and i.cancelled and not i.closed
    and least(i.to_shipped, l.quantity - l.cancelled) > l.shipped`;

const NOTE_CANCELLED = `
  update import_line i set taken = l.quantity - l.shipped - l.cancelled
  from order_line l where l.id = i.line_id and i.outcome = 'cancellation' and i.cancelled and not i.closed`;

/*
 * The sum of what is taken back is a state of the line and not one more step: read twice, it cancels once.
 */
const TAKE_BACK = `
  create temp table import_taken on commit drop as
  with asked as (
    select o.order_id, l.channel, l.number, l.code, sum(l.total)::bigint as units
    from import_line l join import_order o on o.channel = l.channel and o.number = l.number
    where l.outcome = 'cancellation' and l.takes_back and not l.closed
    group by 1, 2, 3, 4
  ), room as (
    select l.id, a.channel, a.number, a.code, a.units, l.cancelled, l.quantity - l.shipped as most,
      sum(l.quantity - l.shipped) over (partition by l.order_id, l.shop_code order by l.occurrence)
        - (l.quantity - l.shipped) as before
    from asked a join order_line l on l.order_id = a.order_id and l.shop_code = a.code
  )
  select id as line_id, channel, number, code,
    greatest(cancelled, least(most, greatest(0, units - before)))::bigint - cancelled as taken
  from room`;

const NOTE_TAKEN_BACK = `
  update import_line i set taken = n.taken, line_id = n.line_id
  from (
    select l.line, t.line_id, greatest(0, least(l.total, t.taken
      - (sum(l.total) over (partition by l.channel, l.number, l.code order by l.line) - l.total)))::bigint as taken
    from import_line l
      join (select channel, number, code, min(line_id) as line_id, sum(taken) as taken from import_taken group by 1, 2, 3) t
        on t.channel = l.channel and t.number = l.number and t.code = l.code
    where l.outcome = 'cancellation' and l.takes_back
  ) n
  where n.line = i.line`;

const KNOWN_CANCELLATIONS = `
  update import_line set outcome = 'known'
  where outcome = 'cancellation' and line_id is not null and taken = 0 and (cancelled or takes_back)`;

/* What was said by hand of how an order stands beside others, no file changes. */
const AMEND_ORDERS = `
  update customer_order o set placed_on = n.placed_on, customer_id = n.customer_id, weight = n.weight, urgent = n.urgent
  from (
    select was.id, coalesce(i.placed_on, was.placed_on) as placed_on, coalesce(c.id, was.customer_id) as customer_id,
      case when was.precedence_by is null then coalesce(i.weight, was.weight) else was.weight end as weight,
      case when was.precedence_by is null then coalesce(i.urgent, was.urgent) else was.urgent end as urgent
    from import_order i join customer_order was on was.id = i.order_id
      left join customer c on lower(c.name) = lower(i.customer)
  ) n
  where o.id = n.id and (n.placed_on, n.customer_id, n.weight, n.urgent)
    is distinct from (o.placed_on, o.customer_id, o.weight, o.urgent)`;

const STATE = `
  select o.id, sum(l.quantity - l.shipped - l.cancelled) as open, sum(l.shipped) as shipped
  from import_order i join customer_order o on o.id = i.order_id join order_line l on l.order_id = o.id
  group by o.id`;

/** Paid since, sent without ever being paid here, or ordered more of after it was done. */
const CONFIRM_ORDERS = `
  update customer_order o set status = 'confirmed'
  from import_order i join (${STATE}) s on s.id = i.order_id
  where o.id = i.order_id and (
    (o.status = 'waiting' and (not i.waiting or (s.open = 0 and s.shipped > 0)))
    or (o.status = 'fulfilled' and s.open > 0))`;

const CLOSE_ORDERS = `
  update customer_order o set status = case when s.shipped > 0 then 'fulfilled' else 'cancelled' end
  from (${STATE}) s
  where o.id = s.id and s.open = 0 and o.status in ('waiting', 'confirmed')`;
