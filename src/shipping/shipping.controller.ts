import { Body, Controller, Get, Param, Post, Query, Res } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { FastifyReply } from 'fastify';
import { pdfHeaders } from '../platform/pdf.js';
import { ApiProblem } from '../platform/problem-schema.js';
import { Who } from '../platform/person.js';
import { idParam } from '../platform/schema.js';
import { lotView } from '../stock/stock.schema.js';
import type { LotView } from '../stock/stock.schema.js';
import { type OrderPath, orderPath } from '../orders/orders.schema.js';
import { pickList, pickOrder, pickQuery } from './pick.schema.js';
import type { PickList, PickOrder, PickQuery } from './pick.schema.js';
import { PickService } from './pick.service.js';
import { ReturnsService } from './returns.service.js';
import { ShipmentsService } from './shipments.service.js';
import {
  emptiesCreate,
  returnCreate,
  shipmentCreate,
  shipmentPage,
  shipmentProblem,
  shipmentQuery,
  shipmentView,
} from './shipping.schema.js';
import type {
  EmptiesCreate,
  ReturnCreate,
  ShipmentCreate,
  ShipmentPage,
  ShipmentQuery,
  ShipmentView,
} from './shipping.schema.js';
import { SlipService } from './slip.service.js';

@ApiTags('shipping')
@Controller('api')
export class ShippingController {
  constructor(
    private readonly shipments: ShipmentsService,
    private readonly returns: ReturnsService,
    private readonly picks: PickService,
    private readonly slips: SlipService,
  ) {}

  @Get('pick-list')
  @ApiOperation({ summary: 'Open orders by ship-by, with the lots to take, first expired first' })
  @ApiOkResponse({ standardSchema: pickList })
  pickList(@Query({ schema: pickQuery }) query: PickQuery): Promise<PickList> {
    return this.picks.list(query);
  }

  @Get('pick-list/:channel/:number')
  @ApiOperation({ summary: 'One order as it stands in the list' })
  @ApiOkResponse({ standardSchema: pickOrder })
  async pickOrder(@Param({ schema: orderPath }) { channel, number }: OrderPath): Promise<PickOrder> {
    const { on: _on, ...order } = await this.picks.order(channel, number);
    return order;
  }

  @Get('shipments')
  @ApiOperation({ summary: 'Shipments, oldest first, of one order or of all' })
  @ApiOkResponse({ standardSchema: shipmentPage })
  list(@Query({ schema: shipmentQuery }) query: ShipmentQuery): Promise<ShipmentPage> {
    return this.shipments.list(query);
  }

  @Post('shipments')
  @ApiProblem(shipmentProblem)
  @ApiOperation({ summary: 'Ship parts of an order' })
  @ApiCreatedResponse({ standardSchema: shipmentView })
  ship(@Who() who: string, @Body({ schema: shipmentCreate }) body: ShipmentCreate): Promise<ShipmentView> {
    return this.shipments.ship(who, body);
  }

  @Get('shipments/:id/slip.pdf')
  @ApiOperation({ summary: 'The packing slip of a shipment' })
  @ApiOkResponse({ content: { 'application/pdf': { schema: { type: 'string', format: 'binary' } } } })
  async slip(@Param('id', { schema: idParam }) id: number, @Res({ passthrough: true }) reply: FastifyReply) {
    const bytes = await this.slips.pdf(id);
    void reply.headers(pdfHeaders(`packing-slip-${id}`));
    return bytes;
  }

  @Post('empties')
  @ApiOperation({ summary: 'Take back empty containers, on hold until they are washed' })
  @ApiCreatedResponse({ standardSchema: lotView })
  takeEmpties(@Who() who: string, @Body({ schema: emptiesCreate }) body: EmptiesCreate): Promise<LotView> {
    return this.returns.takeEmpties(who, body);
  }

  @Post('returns')
  @ApiOperation({ summary: 'Take back what was shipped, held apart' })
  @ApiCreatedResponse({ standardSchema: lotView })
  takeBack(@Who() who: string, @Body({ schema: returnCreate }) body: ReturnCreate): Promise<LotView> {
    return this.returns.takeBack(who, body);
  }
}
