import { Body, Controller, Get, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { lotView } from '../stock/stock.schema.js';
import type { LotView } from '../stock/stock.schema.js';
import { ReturnsService } from './returns.service.js';
import { ShipmentsService } from './shipments.service.js';
import { returnCreate, shipmentCreate, shipmentPage, shipmentQuery, shipmentView } from './shipping.schema.js';
import type { ReturnCreate, ShipmentCreate, ShipmentPage, ShipmentQuery, ShipmentView } from './shipping.schema.js';

@ApiTags('shipping')
@Controller('api')
export class ShippingController {
  constructor(
    private readonly shipments: ShipmentsService,
    private readonly returns: ReturnsService,
  ) {}

  @Get('shipments')
  @ApiOperation({ summary: 'Shipments, oldest first, of one order or of all' })
  @ApiOkResponse({ standardSchema: shipmentPage })
  list(@Query({ schema: shipmentQuery }) query: ShipmentQuery): Promise<ShipmentPage> {
    return this.shipments.list(query);
  }

  @Post('shipments')
  @ApiOperation({ summary: 'Ship parts of an order' })
  @ApiCreatedResponse({ standardSchema: shipmentView })
  ship(@Who() who: string, @Body({ schema: shipmentCreate }) body: ShipmentCreate): Promise<ShipmentView> {
    return this.shipments.ship(who, body);
  }

  @Post('returns')
  @ApiOperation({ summary: 'Take back what was shipped, held apart' })
  @ApiCreatedResponse({ standardSchema: lotView })
  takeBack(@Who() who: string, @Body({ schema: returnCreate }) body: ReturnCreate): Promise<LotView> {
    return this.returns.takeBack(who, body);
  }
}
