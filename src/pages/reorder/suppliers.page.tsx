import { Get, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { lineOfText, readableCode } from '../../platform/schema.js';
import { packChange, packCreate, supplierChange, supplierCreate } from '../../purchasing/purchasing.schema.js';
import { SuppliersService } from '../../purchasing/suppliers.service.js';
import { bodyOf, faultOf, goTo, type Sent, wholeOrText, written } from '../../ui/form.js';
import { NEW_SUPPLIER, packForm, SUPPLIERS_SAID, SuppliersView } from './suppliers-view.js';
import { moneyE4Of } from '../../ui/amounts.js';
import { WEEKDAYS } from '../../ui/dates.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const supplierPath = z.strictObject({ code: readableCode });
const packPath = z.strictObject({ code: readableCode, pack: lineOfText(80) });
const saidQuery = z.strictObject({ said: z.enum(SUPPLIERS_SAID).optional() });

/** Whom the workshop buys from: their terms, and the packs they sell. */
@PageController('suppliers')
export class SuppliersPage {
  constructor(private readonly suppliers: SuppliersService) {}

  @Get()
  async show(@Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>) {
    return <SuppliersView {...await this.seen()} said={said} />;
  }

  @Post()
  add(@Filled() { who, sent, reply }: Filled) {
    return this.act({ form: NEW_SUPPLIER, said: 'supplier', sent, reply }, async () => {
      const body = { code: written(sent, 'code') ?? '', ...termsOf(sent) };
      await this.suppliers.create(who, bodyOf(supplierCreate, body));
    });
  }

  @Post(':code')
  change(@Filled(supplierPath) { who, path: { code }, sent, reply }: Filled<typeof supplierPath>) {
    return this.act({ form: code, said: 'supplier', sent, reply }, async () => {
      await this.suppliers.change(who, code, bodyOf(supplierChange, termsOf(sent)));
    });
  }

  @Post(':code/packs')
  addPack(@Filled(supplierPath) { who, path: { code }, sent, reply }: Filled<typeof supplierPath>) {
    return this.act({ form: packForm(code), said: 'pack', sent, reply }, async () => {
      const body = {
        supplier: code,
        item: written(sent, 'item') ?? '',
        code: written(sent, 'code') ?? '',
        size: written(sent, 'size') ?? '',
        ...priceAndDaysOf(sent),
      };
      await this.suppliers.createPack(who, bodyOf(packCreate, body));
    });
  }

  @Post(':code/packs/:pack')
  changePack(@Filled(packPath) { who, path: { code, pack }, sent, reply }: Filled<typeof packPath>) {
    return this.act({ form: packForm(code, pack), said: 'pack', sent, reply }, async () => {
      const body = { ...priceAndDaysOf(sent), withdrawn: sent['withdrawn'] === 'yes' };
      await this.suppliers.changePack(who, code, pack, bodyOf(packChange, body));
    });
  }

  private async act(
    asked: { form: string; said: (typeof SUPPLIERS_SAID)[number]; sent: Sent; reply: FastifyReply },
    work: () => Promise<void>,
  ): Promise<JSX.Element | string> {
    try {
      await work();
      return goTo(asked.reply, '/suppliers', { said: asked.said });
    } catch (error) {
      const fault = faultOf(error, asked.reply);
      return <SuppliersView {...await this.seen()} refused={{ form: asked.form, sent: asked.sent, fault }} />;
    }
  }

  private async seen() {
    const { suppliers } = await this.suppliers.list();
    const { packs } = await this.suppliers.packs({});
    return { suppliers, packs };
  }
}

function termsOf(sent: Sent) {
  return {
    name: written(sent, 'name') ?? '',
    orderDays: WEEKDAYS.flatMap((_day, at) => (sent[`orderDays/${at}`] === 'yes' ? [at] : [])),
    minimumOrderE4: moneyE4Of(written(sent, 'minimumOrderE4'), '/minimumOrderE4') ?? 0,
    freightE4: moneyE4Of(written(sent, 'freightE4'), '/freightE4') ?? 0,
    freightFreeFromE4: moneyE4Of(written(sent, 'freightFreeFromE4'), '/freightFreeFromE4') ?? null,
    email: written(sent, 'email') ?? '',
    account: written(sent, 'account') ?? '',
    address: written(sent, 'address') ?? '',
  };
}

function priceAndDaysOf(sent: Sent) {
  return {
    priceE4: moneyE4Of(written(sent, 'priceE4'), '/priceE4') ?? '',
    leastPacks: wholeOrText(written(sent, 'leastPacks')) ?? 1,
    leadDays: wholeOrText(written(sent, 'leadDays')) ?? '',
  };
}
