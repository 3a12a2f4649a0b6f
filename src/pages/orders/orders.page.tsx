import { Get, Param, Post, Query, Redirect } from '@nestjs/common';
import { z } from 'zod';
import { ChannelsService } from '../../orders/channels.service.js';
import { ORDER_STATUSES } from '../../orders/orders.entity.js';
import { channelCode, type ChannelView, orderChange, orderPath, type OrderPath } from '../../orders/orders.schema.js';
import { OrdersService } from '../../orders/orders.service.js';
import { type CoveredOrder, type CoveredPage, CoverageService } from '../../planning/coverage.service.js';
import { shortDay } from '../../ui/dates.js';
import { Who } from '../../platform/person.js';
import { lineOfText } from '../../platform/schema.js';
import { ReturnsService } from '../../shipping/returns.service.js';
import { returnCreate } from '../../shipping/shipping.schema.js';
import { ShipmentsService } from '../../shipping/shipments.service.js';
import { CoveredLines, ORDER_STATES, OrderState } from './coverage.js';
import { blankIsNone, bodyOf, ChoiceField, faultOf, goTo, TextField, written } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { isUnderWay, OrderView } from './order.js';
import { UrgentMark } from './elsewhere/urgent-mark.js';
import { weightOf } from './precedence-form.js';
import { sendsOf } from './sends-form.js';
import { orderAddress } from '../../ui/addresses.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const ORDERS_A_PAGE = 25;

const listQuery = z.strictObject({
  search: blankIsNone(lineOfText(200)),
  status: blankIsNone(z.enum(ORDER_STATUSES)),
  channel: blankIsNone(channelCode),
  only: blankIsNone(z.literal('late')),
  after: blankIsNone(lineOfText(20)),
});
type ListQuery = z.infer<typeof listQuery>;

const saidQuery = z.strictObject({
  said: z.enum(['added', 'confirmed', 'cancelled', 'returned', 'precedence', 'sends']).optional(),
});

const SAID = {
  added: 'The order is written down. The next plan takes it in.',
  confirmed: 'The order is confirmed. The next plan takes it in.',
  cancelled: 'What was open of the order is cancelled, and what was set aside for it is free again.',
  precedence: 'It is kept. The next plan goes by it.',
  sends: 'It is kept. The next plan goes by it.',
  returned: 'It is taken back and on hold: decide about its lot on the shelf.',
};

/** Orders, and how far each line is covered. */
@PageController('orders')
export class OrdersPage {
  constructor(
    private readonly orders: OrdersService,
    private readonly channels: ChannelsService,
    private readonly coverage: CoverageService,
    private readonly shipments: ShipmentsService,
    private readonly returns: ReturnsService,
  ) {}

  @Get()
  async list(@Query({ schema: listQuery }) query: ListQuery) {
    const { only, ...asked } = query;
    const page = await this.coverage.page({ ...asked, limit: ORDERS_A_PAGE, trouble: only === 'late' });
    const { channels } = await this.channels.list();
    return <OrdersView query={query} page={page} channels={channels} />;
  }

  @Get(':channel/:number')
  async show(
    @Param({ schema: orderPath }) path: OrderPath,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return <OrderView {...await this.seen(path)} said={said && SAID[said]} />;
  }

  @Post(':channel/:number/return')
  async takeBack(@Filled(orderPath) { who, path, sent, reply }: Filled<typeof orderPath>) {
    try {
      const [code, occurrence, lot] = whatCameBack(sent['what']);
      const body = bodyOf(returnCreate, {
        orderLine: { ...path, code, occurrence },
        lot,
        quantity: written(sent, 'quantity') ?? '',
        reason: written(sent, 'reason'),
        place: written(sent, 'place'),
      });
      await this.returns.takeBack(who, body);
      return goTo(reply, orderAddress(path), { said: 'returned' });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <OrderView {...await this.seen(path)} said={undefined} refused={{ form: 'back', sent, fault }} />;
    }
  }

  @Post(':channel/:number/precedence')
  setPrecedence(@Filled(orderPath) filled: Filled<typeof orderPath>) {
    const { sent } = filled;
    return this.say('precedence', filled, { urgent: sent['urgent'] !== undefined, weight: weightOf(sent) ?? null });
  }

  @Post(':channel/:number/sends')
  setSends(@Filled(orderPath) filled: Filled<typeof orderPath>) {
    return this.say('sends', filled, { sends: sendsOf(filled.sent) ?? null });
  }

  /** Says of an order what one of its forms says; a fault shows that again. */
  private async say(form: 'precedence' | 'sends', filled: Filled<typeof orderPath>, said: object) {
    const { who, path, sent, reply } = filled;
    try {
      await this.orders.change(who, path, bodyOf(orderChange, said));
      return goTo(reply, orderAddress(path), { said: form });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <OrderView {...await this.seen(path)} said={undefined} refused={{ form, sent, fault }} />;
    }
  }

  private async seen(path: OrderPath) {
    const covered = await this.coverage.order(path);
    const { shipments } = await this.shipments.list({ order: `${path.channel}/${path.number}`, limit: 100 });
    const { channels } = await this.channels.list();
    return { covered, shipments, channel: channels.find(({ code }) => code === path.channel)! };
  }

  @Post(':channel/:number/confirm')
  @Redirect()
  async confirm(@Who() who: string, @Param({ schema: orderPath }) path: OrderPath) {
    await this.orders.confirm(who, path);
    return { url: `${orderAddress(path)}?said=confirmed`, statusCode: 303 };
  }

  @Post(':channel/:number/cancel')
  @Redirect()
  async cancel(@Who() who: string, @Param({ schema: orderPath }) path: OrderPath) {
    await this.orders.cancel(who, path);
    return { url: `${orderAddress(path)}?said=cancelled`, statusCode: 303 };
  }
}

/** A choice of the form names a line by its code and occurrence, and a lot, all of which may hold anything. */
function whatCameBack(choice: string | undefined): unknown[] {
  try {
    const read: unknown = JSON.parse(choice ?? '');
    return Array.isArray(read) ? read : [];
  } catch {
    return [];
  }
}

interface ListProps {
  query: ListQuery;
  page: CoveredPage;
  channels: readonly ChannelView[];
}

function OrdersView({ query, page, channels }: ListProps): JSX.Element {
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
      {page.orders.length === 0 ? <NoOrders query={query} /> : <OrderTable page={page} names={names} />}
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
        Only late or not covered
      </label>
      <button type="submit">Show</button>
    </form>
  );
}

function OrderTable({ page, names }: { page: CoveredPage; names: ReadonlyMap<string, string> }): JSX.Element {
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
        {page.orders.map((order) => (
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
    <div class="note">
      <p>
        <strong>
          {query.only === 'late' ? 'No order is late or uncovered.' : isFiltered ? 'No order fits.' : 'No orders yet.'}
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
          Newest orders
        </a>
      )}
      {next !== null && (
        <a class="button" href={address(next)}>
          Older orders
        </a>
      )}
    </nav>
  );
}
