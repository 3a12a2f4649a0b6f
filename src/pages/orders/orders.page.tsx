import { Get, Param, Post, Query, Redirect } from '@nestjs/common';
import { z } from 'zod';
import { ChannelsService } from '../../orders/channels.service.js';
import { orderChange, orderPath, type OrderPath } from '../../orders/orders.schema.js';
import { OrdersService } from '../../orders/orders.service.js';
import { CoverageService } from '../../planning/coverage.service.js';
import { Who } from '../../platform/person.js';
import { ReturnsService } from '../../shipping/returns.service.js';
import { returnCreate } from '../../shipping/shipping.schema.js';
import { ShipmentsService } from '../../shipping/shipments.service.js';
import { bodyOf, faultOf, goTo, written } from '../../ui/form.js';
import { OrderView } from './order.js';
import { listQuery, type ListQuery, OrdersView } from './order-list.js';
import { weightOf } from './precedence-form.js';
import { sendsOf } from './sends-form.js';
import { orderAddress } from '../../ui/addresses.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const ORDERS_A_PAGE = 25;

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
