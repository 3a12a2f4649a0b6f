import { Get, HttpCode, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { Clock } from '../../platform/clock.js';
import { invalid } from '../../platform/problem.js';
import { readableCode } from '../../platform/schema.js';
import { ConfirmingService } from '../../purchasing/confirming.service.js';
import { DeliveriesService } from '../../purchasing/deliveries.service.js';
import { PurchaseLetterService } from '../../purchasing/purchase-letter.service.js';
import {
  purchaseOrderCancel,
  purchaseOrderChange,
  purchaseOrderConfirm,
  purchaseOrderEmail,
  purchaseOrderSend,
  type PurchaseOrderView,
} from '../../purchasing/purchase-orders.schema.js';
import { PurchaseOrdersService } from '../../purchasing/purchase-orders.service.js';
import { deliveryDate, deliveryEnd, deliveryReceive } from '../../purchasing/purchasing.schema.js';
import { ReceivingService } from '../../purchasing/receiving.service.js';
import { SuppliersService } from '../../purchasing/suppliers.service.js';
import type { BrokenPromise } from '../../stock/stock.schema.js';
import { bodyOf, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { freedForAddress, freedQuery } from '../shelf/elsewhere/freed.js';
import { atItsRow, changeOf, confirmOf, PURCHASE_FORMS, type PurchaseForm, receiveOf } from './purchase-forms.js';
import { PurchaseView } from './purchase-view.js';
import { type PurchaseViewProps } from './purchase-props.js';
import { PURCHASE_SAID } from './purchase-words.js';
import { moneyE4Of } from '../../ui/amounts.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const SAID = Object.keys(PURCHASE_SAID) as (keyof typeof PURCHASE_SAID)[];
const orderPath = z.strictObject({ code: readableCode });
const formPath = z.strictObject({ code: readableCode, form: z.enum(PURCHASE_FORMS) });
const orderQuery = z.strictObject({ said: z.enum(SAID).optional(), freed: freedQuery });
type Said = Pick<PurchaseViewProps, 'said' | 'freed' | 'refused'>;

interface Done {
  said: keyof typeof PURCHASE_SAID;
  broken?: readonly BrokenPromise[];
  /** Of the lines sent on: their rows in the form. */
  rows?: number[];
}

/** One purchase order, from the draft to what came of it. */
@PageController('purchase-orders/:code')
export class PurchaseOrderPage {
  constructor(
    private readonly orders: PurchaseOrdersService,
    private readonly confirming: ConfirmingService,
    private readonly letters: PurchaseLetterService,
    private readonly receiving: ReceivingService,
    private readonly deliveries: DeliveriesService,
    private readonly suppliers: SuppliersService,
    private readonly workshop: WorkshopService,
    private readonly clock: Clock,
  ) {}

  @Get()
  async show(
    @Param({ schema: orderPath }) { code }: z.infer<typeof orderPath>,
    @Query({ schema: orderQuery }) said: z.infer<typeof orderQuery>,
  ) {
    return this.view(await this.orders.get(code), said);
  }

  /** Does what one of the forms asks for, and shows it again where that is refused. */
  @Post(':form')
  @HttpCode(200)
  async act(@Filled(formPath) { who, path: { code, form }, sent, reply }: Filled<typeof formPath>) {
    const order = await this.orders.get(code);
    const rows: number[] = [];
    try {
      const { said, broken = [] } = await this.do(form, { who, order, sent, rows });
      const measures = new Map(order.lines.map(({ item, measure }) => [item, measure]));
      const freed = broken.map((row) => ({ ...row, measure: measures.get(row.item) ?? ('counted' as const) }));
      return goTo(reply, `/purchase-orders/${code}`, { said, freed: freedForAddress(freed) });
    } catch (error) {
      const fault = atItsRow(faultOf(error, reply), rows.length > 0 ? rows : undefined);
      return this.view(await this.orders.get(code), { refused: { form, delivery: sent['delivery'], sent, fault } });
    }
  }

  private async do(
    form: PurchaseForm,
    { who, order, sent, rows }: { who: string; order: PurchaseOrderView; sent: Sent; rows: number[] },
  ): Promise<Done> {
    const { code } = order;
    const delivery = order.deliveries.find((row) => row.code === sent['delivery']);
    switch (form) {
      case 'change': {
        const change = changeOf(sent, order);
        rows.push(...change.rows);
        await this.orders.change(who, code, bodyOf(purchaseOrderChange, change.body));
        return { said: 'changed' };
      }
      case 'send': {
        const body = { sentBy: written(sent, 'sentBy'), sentOn: written(sent, 'sentOn') };
        await this.orders.send(who, code, bodyOf(purchaseOrderSend, body));
        return { said: 'sent' };
      }
      case 'email':
        await this.letters.send(who, code, bodyOf(purchaseOrderEmail, { to: written(sent, 'to') }));
        return { said: 'emailed' };
      case 'take-back':
        await this.orders.takeBack(who, code);
        return { said: 'taken-back' };
      case 'confirm':
        await this.confirming.confirm(who, code, bodyOf(purchaseOrderConfirm, confirmOf(sent, order)));
        return { said: 'confirmed' };
      case 'freight':
        await this.confirming.putFreight(who, code, moneyE4Of(written(sent, 'freight'), '/freight') ?? 0);
        return { said: 'freight' };
      case 'cancel': {
        const { why } = bodyOf(purchaseOrderCancel, { why: written(sent, 'why') });
        return { said: 'cancelled', broken: (await this.confirming.cancel(who, code, why)).broken };
      }
      default:
        if (!delivery) throw invalid('/delivery', 'The order has no such delivery.', 'unknown-delivery');
        return this.doWith(form, delivery, { who, order, sent, rows });
    }
  }

  private async doWith(
    form: 'receive' | 'date' | 'end',
    delivery: PurchaseOrderView['deliveries'][number],
    { who, order, sent, rows }: { who: string; order: PurchaseOrderView; sent: Sent; rows: number[] },
  ): Promise<Done> {
    if (form === 'receive') {
      const came = receiveOf(sent, order, delivery);
      rows.push(...came.rows);
      if (came.rows.length === 0) throw invalid('/lines/0/quantity', 'Write down how much came.', 'nothing-came');
      const { broken } = await this.receiving.receive(who, delivery.code, bodyOf(deliveryReceive, came.body));
      return { said: 'received', broken };
    }
    if (form === 'date') {
      const body = bodyOf(deliveryDate, { expectedOn: written(sent, 'expectedOn') });
      return { said: 'dated', broken: (await this.deliveries.redate(who, delivery.code, body)).broken };
    }
    const { why } = bodyOf(deliveryEnd, { why: written(sent, 'why') });
    return { said: 'ended', broken: (await this.deliveries.end(who, delivery.code, why)).broken };
  }

  private async view(order: PurchaseOrderView, said: Said) {
    const { currency } = await this.workshop.get();
    const { packs } = await this.suppliers.packs({ supplier: order.supplier });
    return (
      <PurchaseView
        {...{ order, packs, currency, canEmail: this.letters.canSend, today: await this.clock.today(), ...said }}
      />
    );
  }
}
