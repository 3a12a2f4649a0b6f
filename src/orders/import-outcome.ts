import type { EntityManager } from 'typeorm';
import { LISTED_MAX, NEW_SHOWN } from './import.schema.js';
import type { Amendment, Cancellation, ImportReport, NewLine, UnknownCode } from './import.schema.js';
import type { RowProblem } from './rows.js';

/** The part of a report that the database knows once the rows are resolved and applied. */
export interface Outcome {
  rows: Record<'new' | 'known' | 'amended' | 'cancelled' | 'fulfilled' | 'bad', number>;
  orders: ImportReport['orders'];
  units: ImportReport['units'];
  newLines: NewLine[];
  /** Of faults that need the database to be seen. */
  problemCounts: Record<string, number>;
  problems: RowProblem[];
  unknownCodeCount: number;
  unknownCodes: UnknownCode[];
  amendments: Amendment[];
  cancellations: Cancellation[];
}

/** Which header the code, the quantity and the customer stand under, for the problems that name a column. */
export interface ProblemColumns {
  code: string;
  quantity: string;
  customer: string;
}

/** What became of the staged rows. To be called after they were applied, in the same act. */
export async function readOutcome(tx: EntityManager, columns: ProblemColumns): Promise<Outcome> {
  await tx.query(AMENDED_ORDERS);
  const [counts] = await tx.query<CountsRow[]>(COUNTS);
  const faults = await tx.query<{ fault: string; rows: number }[]>(
    `select fault, count(*) as rows from import_line where outcome = 'bad' and fault <> 'row' group by fault order by fault`,
  );
  const unknown = await tx.query<(UnknownCode & { total: number })[]>(UNKNOWN_CODES, [LISTED_MAX]);
  const bad = await tx.query<FaultRow[]>(FAULTS, [LISTED_MAX]);
  const amendments = await tx.query<AmendmentRow[]>(AMENDMENTS, [LISTED_MAX]);
  const { ordersNew, ordersWaiting, unitsPlanned, ...rows } = counts!;
  return {
    rows,
    orders: { new: ordersNew, waiting: ordersWaiting },
    units: { planned: unitsPlanned },
    newLines: await tx.query<NewLine[]>(NEW_LINES, [NEW_SHOWN]),
    problemCounts: Object.fromEntries(faults.map((row) => [row.fault, row.rows])),
    problems: bad.map((row) => ({ line: row.line, code: row.fault, ...faultOf(row, columns) })),
    unknownCodeCount: unknown[0]?.total ?? 0,
    unknownCodes: unknown.map((row) => ({
      channel: row.channel,
      code: row.code,
      lines: row.lines,
      units: row.units,
      firstLine: row.firstLine,
    })),
    amendments: amendments.map(amendmentOf),
    cancellations: await tx.query<Cancellation[]>(CANCELLATIONS, [LISTED_MAX]),
  };
}

type CountsRow = Outcome['rows'] & { ordersNew: number; ordersWaiting: number; unitsPlanned: number };

interface FaultRow {
  line: number;
  fault: string;
  channel: string;
  number: string;
  code: string;
  customer: string | null;
  wasItem: string | null;
}

interface AmendmentRow {
  line: number;
  channel: string;
  number: string;
  code: string;
  occurrence: number;
  from: Record<string, string | null>;
  to: Record<string, string | null>;
}

function faultOf(row: FaultRow, columns: ProblemColumns): { column: string; detail: string } {
  const { code, channel, number } = row;
  if (row.fault === 'unknown-code')
    return { column: columns.code, detail: `There is no item and no shop code of ${channel} called "${code}".` };
  if (row.fault === 'weighed-item')
    return { column: columns.code, detail: `"${code}" is weighed, so it cannot be ordered by the piece.` };
  if (row.fault === 'customer-differs')
    return { column: columns.customer, detail: `Order ${number} has another customer in an earlier row.` };
  if (row.fault === 'shipped-as-another')
    return { column: columns.code, detail: `"${code}" now means another item, and ${row.wasItem} was shipped for it.` };
  return { column: columns.quantity, detail: `The quantity in units of "${code}" is too large.` };
}

function amendmentOf({ from, to, ...key }: AmendmentRow): Amendment {
  const fields = Object.keys(from).filter((field) => from[field] !== to[field]);
  return { ...key, changes: fields.map((field) => ({ field, from: from[field]!, to: to[field]! })) };
}

/** What an order itself says is shown at its first row. */
const ORDER_CHANGED = `
  select i.first_stated as line, i.was_status, o.status, i.was_placed_on, o.placed_on, i.was_customer, c.name as customer,
    i.was_weight, o.weight, i.was_urgent, o.urgent
  from import_order i join customer_order o on o.id = i.order_id left join customer c on c.id = o.customer_id
  where i.was_status is not null
    and (i.was_status, i.was_placed_on, i.was_customer, i.was_weight, i.was_urgent)
      is distinct from (o.status, o.placed_on, c.name, o.weight, o.urgent)`;

const AMENDED_ORDERS = `
  update import_line l set outcome = 'amendment' from (${ORDER_CHANGED}) c where c.line = l.line and l.outcome = 'known'`;

const COUNTS = `
  select count(*) filter (where outcome = 'new') as new, count(*) filter (where outcome = 'known') as known,
    count(*) filter (where outcome = 'amendment') as amended, count(*) filter (where outcome = 'cancellation') as cancelled,
    count(*) filter (where outcome = 'fulfilled') as fulfilled, count(*) filter (where outcome = 'bad') as bad,
    (select count(*) from import_order where was_status is null and order_id is not null) as "ordersNew",
    (select count(*) from import_order i join customer_order o on o.id = i.order_id where o.status = 'waiting')
      as "ordersWaiting",
    (select coalesce(sum(ol.quantity - ol.shipped - ol.cancelled), 0)::bigint
      from import_line l
        join import_order i on i.channel = l.channel and i.number = l.number
        join customer_order o on o.id = i.order_id and o.status = 'confirmed'
        join order_line ol on ol.order_id = o.id and ol.shop_code = l.code and ol.occurrence = l.occurrence
      where l.outcome = 'new') as "unitsPlanned"
  from import_line`;

const NEW_LINES = `
  select l.line, l.channel, l.number, l.code, l.occurrence, l.customer, l.item, l.to_quantity as quantity,
    ol.ship_by as "shipBy"
  from (select * from import_line where outcome = 'new' and item is not null order by line limit $1) l
    join import_order i on i.channel = l.channel and i.number = l.number
    join order_line ol on ol.order_id = i.order_id and ol.shop_code = l.code and ol.occurrence = l.occurrence
  order by l.line`;

const UNKNOWN_CODES = `
  select channel, code, count(*) as lines, sum(total)::bigint as units, min(line) as "firstLine", count(*) over () as total
  from import_line where fault = 'unknown-code'
  group by channel, code order by count(*) desc, channel, code limit $1`;

const FAULTS = `
  select line, fault, channel, number, code, customer, was_item as "wasItem"
  from import_line where outcome = 'bad' and fault <> 'row' order by line limit $1`;

const AMENDMENTS = `
  select l.line, l.channel, l.number, l.code, l.occurrence,
    case when l.line_id is null then '{}' else jsonb_build_object('item', was_item, 'quantity', was_quantity::text,
      'shipped', was_shipped::text, 'cancelled', was_cancelled::text, 'shipBy', was_ship_by, 'notBefore', was_not_before) end
    || case when c.line is null then '{}' else jsonb_build_object('status', c.was_status, 'placedOn', c.was_placed_on,
      'customer', c.was_customer, 'weight', c.was_weight::text,
      'urgent', case when c.was_urgent then 'yes' else 'no' end) end as "from",
    case when l.line_id is null then '{}' else jsonb_build_object('item', coalesce(item, was_item),
      'quantity', to_quantity::text, 'shipped', to_shipped::text, 'cancelled', to_cancelled::text, 'shipBy', to_ship_by,
      'notBefore', to_not_before) end
    || case when c.line is null then '{}' else jsonb_build_object('status', c.status, 'placedOn', c.placed_on,
      'customer', c.customer, 'weight', c.weight::text, 'urgent', case when c.urgent then 'yes' else 'no' end) end as "to"
  from import_line l left join (${ORDER_CHANGED}) c on c.line = l.line
  where l.outcome = 'amendment' order by l.line limit $1`;

const CANCELLATIONS = `
  select line, channel, number, code, occurrence, total as asked, taken as cancelled,
    case when takes_back then 'negative-quantity' when cancelled then 'cancelled-order' else 'cancelled-here' end as reason
  from import_line where outcome = 'cancellation' order by line limit $1`;
