import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { dayOf } from '../kernel/measure/day.js';
import type { LineCover } from '../kernel/plan/proposal.js';
import type { OrderStatus } from '../orders/orders.entity.js';
import { listByNeed, type OrdersByNeed } from '../orders/orders-by-need.js';
import type { OrderPath, OrderQuery, OrderView } from '../orders/orders.schema.js';
import { readOrder } from '../orders/orders.service.js';
import { type Sends, SENT_AS } from '../orders/sends.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { UNNAMED } from '../catalog/workshop.service.js';
import type { MeantSource } from './line-covers.js';
import type { CoveredLine, CoverSource } from './covered-line.js';
import { asSent, readyDay } from './sent-together.js';

export type CoveredOrder = OrdersByNeed['orders'][number] & { coverage: CoveredLine[] };

export interface CoveredPage extends Omit<OrdersByNeed, 'orders'> {
  orders: CoveredOrder[];
  today: string;
}

export type CoverageQuery = OrderQuery & {
  /** Only confirmed orders with a line that is late, or that something is not covered of. */
  trouble: boolean;
};

/** How far orders are covered: by what is set aside for them, then by what the newest plan means to use. */
@Injectable()
export class CoverageService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** One page of orders, those in trouble first. */
  async page({ trouble, ...query }: CoverageQuery): Promise<CoveredPage> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const troubled = (await tx.query<{ id: number }[]>(TROUBLE, [today])).map((row) => row.id);
      const { orders, next, counts } = await listByNeed(tx, query, { troubled, onlyTroubled: trouble });
      const lines = await linesOf(tx, orders, today);
      const covered = orders.map((order) => ({ ...order, coverage: lines.get(keyOf(order)) ?? [] }));
      return { orders: covered, next, counts, today };
    });
  }

  /** The days of the lines of these orders, each by itself, however its order is sent. */
  async readyDays(orders: readonly { channel: string; number: string }[]): Promise<ReadyDays> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const receivingDays = await receivingDaysOf(tx);
      const byItself = orders.map(({ channel, number }) => ({ channel, number, sentAs: 'lines' as const }));
      const lines = await linesOf(tx, byItself, today);
      return new Map(
        byItself.flatMap((order) =>
          (lines.get(keyOf(order)) ?? []).map(
            (line) => [lineKey(order, line), readyDay(line, { today, receivingDays })] as const,
          ),
        ),
      );
    });
  }

  /** One order. Throws a 404 problem. */
  async order(path: OrderPath): Promise<{ order: OrderView; coverage: CoveredLine[]; today: string }> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const order = await readOrder(tx, path);
      return { order, coverage: (await linesOf(tx, [order], today)).get(keyOf(order)) ?? [], today };
    });
  }
}

/** Of each line of an order by its key, the day on which all of it is there; null where not all of it is covered. */
export type ReadyDays = ReadonlyMap<string, string | null>;

export const lineKey = (
  { channel, number }: { channel: string; number: string },
  { code, occurrence }: { code: string; occurrence: number },
): string => `${channel}/${number}/${code}#${occurrence}`;

const keyOf = ({ channel, number }: { channel: string; number: string }): string => `${channel}/${number}`;

type OwnFigures = Pick<
  CoveredLine,
  | 'code'
  | 'occurrence'
  | 'item'
  | 'name'
  | 'measure'
  | 'quantity'
  | 'shipped'
  | 'cancelled'
  | 'open'
  | 'shipBy'
  | 'notBefore'
>;

interface LineRow {
  channel: string;
  number: string;
  status: OrderStatus;
  line: OwnFigures;
  aside: (MeantSource & { ofPlan: boolean })[];
  /** What the newest plan set aside for it when its lots were set aside, used since or not. */
  asideByPlan: number;
  /** What the newest plan meant for it; null where it did not look at the line. */
  plan: {
    asked: number;
    found: number;
    readyOn: string | null;
    because: LineCover['because'];
    sources: MeantSource[];
  } | null;
}

/** The lines of these orders by order, in the order they were written. */
async function linesOf(
  tx: EntityManager,
  orders: readonly { channel: string; number: string; sentAs: Sends }[],
  today: string,
): Promise<Map<string, CoveredLine[]>> {
  const rows = await tx.query<LineRow[]>(LINES, [orders.map((row) => row.channel), orders.map((row) => row.number)]);
  const lines = new Map<string, CoveredLine[]>();
  for (const row of rows) {
    const of = lines.get(keyOf(row)) ?? [];
    lines.set(keyOf(row), [...of, coveredLine(row, today)]);
  }
  const receivingDays = await receivingDaysOf(tx);
  return new Map(
    orders.map((order) => [
      keyOf(order),
      asSent(lines.get(keyOf(order)) ?? [], { sentAs: order.sentAs, today, receivingDays }),
    ]),
  );
}

async function receivingDaysOf(tx: EntityManager): Promise<number> {
  const [said] = await tx.query<{ days: number }[]>('select receiving_days as days from workshop');
  return said?.days ?? UNNAMED.receivingDays;
}

function coveredLine({ line, status, aside, asideByPlan, plan: newest }: LineRow, today: string): CoveredLine {
  const plan = status === 'confirmed' ? newest : null;
  const setAside = aside.map(({ from, code, runId, quantity, on }) => ({
    from,
    code,
    runId,
    quantity,
    on,
    isSetAside: true,
  }));
  const left = line.open - total(setAside);
  const own = new Set(aside.filter((source) => source.ofPlan).map((source) => source.code));
  // of what the plan found for it, what is set aside since, and what has left unasked
  const gone = Math.max(asideByPlan, (plan?.asked ?? 0) - left);
  const meant = plan && left > 0 ? meantSources(plan.sources, own, gone, left) : [];
  const gap = left - total(meant);
  const isMissing = plan !== null && plan.found < plan.asked;
  const days = [...aside.map((source) => source.on), meant.length > 0 ? plan!.readyOn : null];
  const readyOn = days.reduce((last, day) => (day !== null && (last === null || day > last) ? day : last), null);
  const lateDays = line.open > 0 && readyOn !== null ? Math.max(0, dayOf(readyOn) - dayOf(line.shipBy)) : 0;
  return {
    ...line,
    sources: [...setAside, ...meant],
    missing: isMissing ? gap : 0,
    unplanned: isMissing ? 0 : gap,
    readyOn,
    lateDays,
    because: gap > 0 || lateDays > 0 ? (plan?.because ?? null) : null,
    isOverdue: line.open > 0 && line.shipBy < today,
  };
}

const total = (sources: readonly CoverSource[]): number => sources.reduce((sum, source) => sum + source.quantity, 0);

/**
 * What the plan means to use for what is left of a line, at most `left`: all it found, without the `gone` units that were set
 * aside or sent since, which came of what has one of the codes in `own` first.
 */
function meantSources(
  found: readonly MeantSource[],
  own: ReadonlySet<string>,
  gone: number,
  left: number,
): CoverSource[] {
  const first = (source: MeantSource) => (own.has(source.code) ? 0 : 1);
  const sources: CoverSource[] = [];
  for (const source of [...found].sort((a, b) => first(a) - first(b))) {
    const used = Math.min(gone, source.quantity);
    gone -= used;
    const quantity = Math.min(left, source.quantity - used);
    left -= quantity;
    if (quantity > 0) sources.push({ ...source, quantity, isSetAside: false });
  }
  return sources;
}

const LINES = `
  select o.channel, o.number, o.status,
    json_build_object('code', l.shop_code, 'occurrence', l.occurrence, 'item', i.code, 'name', i.name,
      'measure', i.measure, 'quantity', l.quantity, 'shipped', l.shipped, 'cancelled', l.cancelled,
      'open', l.quantity - l.shipped - l.cancelled, 'shipBy', l.ship_by, 'notBefore', l.not_before) as line,
    coalesce((select json_agg(json_build_object(
        'from', case when r.lot_id is not null then 'lot' when r.batch_id is not null then 'batch' else 'delivery' end,
        'code', coalesce(lot.code, b.code, d.code), 'runId', b.run_id, 'quantity', r.open,
        'on', coalesce(b.ready_on, d.expected_on), 'ofPlan', coalesce(r.run_id = c.run_id, false))
        order by r.lot_id, r.batch_id, r.delivery_line_id, r.id)
      from reservation r left join lot on lot.id = r.lot_id left join batch b on b.id = r.batch_id
        left join delivery_line dl on dl.id = r.delivery_line_id left join delivery d on d.id = dl.delivery_id
      where r.order_line_id = l.id and r.open > 0), '[]') as aside,
    coalesce((select sum(r.quantity) from reservation r
      where r.order_line_id = l.id and r.run_id = c.run_id), 0)::bigint as "asideByPlan",
    case when run.id is not null then json_build_object('asked', c.asked, 'found', c.found, 'readyOn', c.ready_on,
      'because', c.because, 'sources', c.sources) end as plan
  from unnest($1::text[], $2::text[]) as w (channel, number)
    join customer_order o on o.channel = w.channel and o.number = w.number
    join order_line l on l.order_id = o.id join item i on i.id = l.item_id
    left join line_cover c on c.order_line_id = l.id left join run on run.id = c.run_id and run.status <> 'undone'
  order by l.id`;

/** The same judgement as coveredLine, over all confirmed orders at once. */
const TROUBLE = `
  with aside as materialized (
    select r.order_line_id, sum(r.open)::bigint as open, max(coalesce(b.ready_on, d.expected_on))
        filter (where r.open > 0) as ready_on,
      coalesce(sum(r.quantity) filter (where r.run_id = c.run_id), 0)::bigint as by_plan
    from reservation r left join line_cover c on c.order_line_id = r.order_line_id left join batch b on b.id = r.batch_id
      left join delivery_line dl on dl.id = r.delivery_line_id left join delivery d on d.id = dl.delivery_id
    where r.order_line_id is not null group by r.order_line_id
  ), line as (
    select l.order_id, l.ship_by, l.not_before, a.ready_on as aside_ready_on, p.ready_on,
      l.quantity - l.shipped - l.cancelled - coalesce(a.open, 0) as left_over,
      greatest(coalesce(p.found, 0) - greatest(coalesce(a.by_plan, 0),
        p.asked - (l.quantity - l.shipped - l.cancelled - coalesce(a.open, 0))), 0) as meant, ${SENT_AS} = 'complete' as is_complete
    from order_line l join customer_order o on o.id = l.order_id join channel c on c.code = o.channel
      left join aside a on a.order_line_id = l.id
      left join (select line_cover.* from line_cover join run on run.id = run_id and run.status <> 'undone') p
        on p.order_line_id = l.id
    where o.status = 'confirmed' and l.quantity > l.shipped + l.cancelled
  ), sent as (
    select line.*, case when is_complete then max(greatest(aside_ready_on, not_before,
        case when left_over > 0 and meant > 0 then ready_on end)) over (partition by order_id) end as all_ready_on
    from line
  )
  select distinct order_id as id from sent
  where ship_by < $1::date or aside_ready_on > ship_by or left_over > meant or all_ready_on > ship_by
    or (left_over > 0 and meant > 0 and ready_on > ship_by)`;
