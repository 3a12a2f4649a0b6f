import {
  Body,
  Controller,
  Get,
  Header,
  HttpCode,
  Param,
  Patch,
  Post,
  Put,
  Query,
  Res,
  StreamableFile,
} from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiProduces, ApiTags } from '@nestjs/swagger';
import type { FastifyReply } from 'fastify';
import { pdfHeaders } from '../platform/pdf.js';
import { Who } from '../platform/person.js';
import { ConfirmingService } from './confirming.service.js';
import type {
  PurchaseOrderCancel,
  PurchaseOrderCancelled,
  PurchaseOrderChange,
  PurchaseOrderConfirm,
  PurchaseOrderCreate,
  PurchaseOrderEmail,
  PurchaseOrderFreight,
  PurchaseOrderPage,
  PurchaseOrderQuery,
  PurchaseOrderSend,
  PurchaseOrderView,
} from './purchase-orders.schema.js';
import * as shape from './purchase-orders.schema.js';
import { PurchaseOrdersService } from './purchase-orders.service.js';
import { PurchaseLetterService } from './purchase-letter.service.js';
import { PurchasePaperService } from './purchase-paper.service.js';

@ApiTags('purchase orders')
@Controller('api/purchase-orders')
export class PurchaseOrdersController {
  constructor(
    private readonly orders: PurchaseOrdersService,
    private readonly confirming: ConfirmingService,
    private readonly papers: PurchasePaperService,
    private readonly letters: PurchaseLetterService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'Purchase orders, the newest first, one page at a time' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderPage })
  list(@Query({ schema: shape.purchaseOrderQuery }) query: PurchaseOrderQuery): Promise<PurchaseOrderPage> {
    return this.orders.list(query);
  }

  @Post()
  @ApiOperation({ summary: 'Draft a purchase order' })
  @ApiCreatedResponse({ standardSchema: shape.purchaseOrderView })
  create(
    @Who() who: string,
    @Body({ schema: shape.purchaseOrderCreate }) body: PurchaseOrderCreate,
  ): Promise<PurchaseOrderView> {
    return this.orders.create(who, body);
  }

  @Get(':code')
  @ApiOperation({ summary: 'One purchase order with what is confirmed and what came' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  get(@Param('code', { schema: shape.purchaseOrderCode }) code: string): Promise<PurchaseOrderView> {
    return this.orders.get(code);
  }

  @Patch(':code')
  @ApiOperation({ summary: 'Change a draft' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  change(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Body({ schema: shape.purchaseOrderChange }) body: PurchaseOrderChange,
  ): Promise<PurchaseOrderView> {
    return this.orders.change(who, code, body);
  }

  @Post(':code/send')
  @HttpCode(200)
  @ApiOperation({ summary: 'Say that the supplier has it' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  send(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Body({ schema: shape.purchaseOrderSend }) body: PurchaseOrderSend,
  ): Promise<PurchaseOrderView> {
    return this.orders.send(who, code, body);
  }

  @Post(':code/email')
  @HttpCode(200)
  @ApiOperation({ summary: 'Send a draft to the supplier by email, with the order as PDF and as CSV' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  email(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Body({ schema: shape.purchaseOrderEmail }) body: PurchaseOrderEmail,
  ): Promise<PurchaseOrderView> {
    return this.letters.send(who, code, body);
  }

  @Post(':code/take-back')
  @HttpCode(200)
  @ApiOperation({ summary: 'Make what was sent a draft again' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  takeBack(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
  ): Promise<PurchaseOrderView> {
    return this.orders.takeBack(who, code);
  }

  @Post(':code/confirm')
  @HttpCode(200)
  @ApiOperation({ summary: 'Enter what the supplier confirms: days, parts, prices; it is expected from then on' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  confirm(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Body({ schema: shape.purchaseOrderConfirm }) body: PurchaseOrderConfirm,
  ): Promise<PurchaseOrderView> {
    return this.confirming.confirm(who, code, body);
  }

  @Put(':code/freight')
  @ApiOperation({ summary: 'The freight as it turned out, before anything came' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderView })
  putFreight(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Body({ schema: shape.purchaseOrderFreight }) body: PurchaseOrderFreight,
  ): Promise<PurchaseOrderView> {
    return this.confirming.putFreight(who, code, body.freightE4);
  }

  @Post(':code/cancel')
  @HttpCode(200)
  @ApiOperation({ summary: 'Give up what has not come' })
  @ApiOkResponse({ standardSchema: shape.purchaseOrderCancelled })
  cancel(
    @Who() who: string,
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Body({ schema: shape.purchaseOrderCancel }) body: PurchaseOrderCancel,
  ): Promise<PurchaseOrderCancelled> {
    return this.confirming.cancel(who, code, body.why);
  }

  @Get(':code/order.pdf')
  @ApiOperation({ summary: 'The order to send' })
  @ApiOkResponse({ content: { 'application/pdf': { schema: { type: 'string', format: 'binary' } } } })
  async pdf(
    @Param('code', { schema: shape.purchaseOrderCode }) code: string,
    @Res({ passthrough: true }) reply: FastifyReply,
  ): Promise<Buffer> {
    const bytes = await this.papers.pdf(code);
    void reply.headers(pdfHeaders(code));
    return bytes;
  }

  @Get(':code/order.csv')
  @ApiOperation({ summary: 'The order as a table' })
  @ApiProduces('text/csv')
  @ApiOkResponse({ schema: { type: 'string' } })
  @Header('cache-control', 'private, no-store')
  async csv(@Param('code', { schema: shape.purchaseOrderCode }) code: string): Promise<StreamableFile> {
    return new StreamableFile(await this.papers.csv(code), {
      type: 'text/csv; charset=utf-8; header=present',
      disposition: `attachment; filename="${code}.csv"`,
    });
  }
}
