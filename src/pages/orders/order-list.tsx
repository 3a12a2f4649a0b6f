import { z } from 'zod';
import { ORDER_STATUSES } from '../../orders/orders.entity.js';
import { type Need, NEEDS } from '../../orders/orders-by-need.js';
import { channelCode, type ChannelView } from '../../orders/orders.schema.js';
import type { CoveredOrder, CoveredPage } from '../../planning/coverage.service.js';
import { lineOfText } from '../../platform/schema.js';
import { orderAddress } from '../../ui/addresses.js';
import { shortDay } from '../../ui/dates.js';
import { blankIsNone, ChoiceField, TextField } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { count } from '../../ui/words.js';
import { CoveredLines, ORDER_STATES, OrderState } from './coverage.js';
import { UrgentMark } from './elsewhere/urgent-mark.js';
import { isUnderWay } from './order.js';

export const listQuery = z.strictObject({
  search: blankIsNone(lineOfText(200)),
  status: blankIsNone(z.enum(ORDER_STATUSES)),
  channel: blankIsNone(channelCode),
  only: blankIsNone(z.literal('late')),
  after: blankIsNone(lineOfText(40)),
});
export type ListQuery = z.infer<typeof listQuery>;

interface ListProps {
  query: ListQuery;
  page: CoveredPage;
  channels: readonly ChannelView[];
}

/** The orders, those that are in trouble first. */
export function OrdersView({ query, page, channels }: ListProps): JSX.Element {
  const names = new Map(channels.map(({ code, name }) => [code, name]));
  return (
    <Page title="Orders" at="/orders">
      <h1>Orders</h1>
      <nav class="row no-print" aria-label="Add orders">
        <a class="button main" href="/orders/new">
          New order
        </a>
        <a class="button" href="/orders/import">
          Bring in a shop's file
        </a>
        <a class="button" href="/orders/channels">
          Where they come from
        </a>
      </nav>
      <Filters query={query} channels={channels} />
      {page.orders.length === 0 ? <NoOrders query={query} /> : <OrderParts page={page} names={names} />}
      <Paging query={query} next={page.next} />
    </Page>
  );
}

function Filters({ query, channels }: { query: ListQuery; channels: readonly ChannelView[] }): JSX.Element {
  const states = ORDER_STATUSES.map((status) => [status, ORDER_STATES[status]] as const);
  const names = channels.map(({ code, name }) => [code, name] as const);
  return (
    <form class="filters no-print" method="get" action="/orders" role="search" aria-label="Orders">
      <TextField form="filter" name="search" label="Number, customer or code" value={query.search} maxlength={200} />
      <ChoiceField form="filter" name="status" label="State" value={query.status} choices={[['', 'any'], ...states]} />
      <ChoiceField form="filter" name="channel" label="From" value={query.channel} choices={[['', 'any'], ...names]} />
      <label class="check">
        <input type="checkbox" name="only" value="late" checked={query.only === 'late'} />
        Only late, short or not planned
      </label>
      <button type="submit">Show</button>
    </form>
  );
}

const NEED_WORDS: Record<Need, string> = {
  trouble: 'Late, short or not planned yet',
  'to-send': 'To send',
  waiting: 'Waiting for payment',
  done: 'Sent or cancelled',
};

/** The parts of the list, each with how many orders it has on all its pages. */
function OrderParts({ page, names }: { page: CoveredPage; names: ReadonlyMap<string, string> }): JSX.Element {
  return (
    <>
      {NEEDS.filter((need) => page.counts[need] !== undefined).map((need) => (
        <section>
          <h2 safe>{`${NEED_WORDS[need]}: ${count(page.counts[need] ?? 0, 'order')}`}</h2>
          <OrderTable orders={page.orders.filter((order) => order.need === need)} names={names} />
        </section>
      ))}
    </>
  );
}

function OrderTable({
  orders,
  names,
}: {
  orders: readonly CoveredOrder[];
  names: ReadonlyMap<string, string>;
}): JSX.Element {
  return (
    <table class="stack orders">
      <thead>
        <tr>
          <th>Order</th>
          <th>Ship by</th>
          <th>State</th>
          <th>Lines and what covers them</th>
        </tr>
      </thead>
      <tbody>
        {orders.map((order) => (
          <OrderRow order={order} channel={names.get(order.channel) ?? order.channel} />
        ))}
      </tbody>
    </table>
  );
}

function OrderRow({ order, channel }: { order: CoveredOrder; channel: string }): JSX.Element {
  return (
    <tr>
      <th scope="row" class="whom">
        <a href={orderAddress(order)} safe>
          {order.number}
        </a>
        <div class="hint" safe>
          {[order.customer, channel].filter((part) => part !== null).join(', ')}
        </div>
      </th>
      <td class="day" data-label="Ship by" safe>
        {order.shipBy === null ? 'nothing open' : shortDay(order.shipBy)}
      </td>
      <td data-label="State">
        <OrderState status={order.status} /> {order.urgent && isUnderWay(order) && <UrgentMark />}
      </td>
      <td>
        <CoveredLines lines={order.coverage} status={order.status} />
      </td>
    </tr>
  );
}

function NoOrders({ query }: { query: ListQuery }): JSX.Element {
  const isFiltered = [query.search, query.status, query.channel, query.only].some((part) => part !== undefined);
  return (
    <div class="note none">
      <p>
        <strong>
          {query.only === 'late'
            ? 'No order is late, short or not planned.'
            : isFiltered
              ? 'No order fits.'
              : 'No orders yet.'}
        </strong>
      </p>
      {isFiltered ? (
        <p>
          <a href="/orders">Show all orders</a>
        </p>
      ) : (
        <p>Write one down, or bring in the file a shop exports. The next plan covers their lines.</p>
      )}
    </div>
  );
}

function Paging({ query, next }: { query: ListQuery; next: string | null }): JSX.Element {
  const address = (after: string | undefined): string => {
    const asked = Object.entries({ ...query, after }).filter((part): part is [string, string] => part[1] !== undefined);
    return asked.length === 0 ? '/orders' : `/orders?${new URLSearchParams(asked).toString()}`;
  };
  if (query.after === undefined && next === null) return <></>;
  return (
    <nav class="row no-print" aria-label="Pages">
      {query.after !== undefined && (
        <a class="button" href={address(undefined)}>
          First page
        </a>
      )}
      {next !== null && (
        <a class="button" href={address(next)}>
          More orders
        </a>
      )}
    </nav>
  );
}
