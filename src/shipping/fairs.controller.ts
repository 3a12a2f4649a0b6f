import { Body, Controller, Get, HttpCode, Param, Post } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { bringBack, fairList, fairName, fairSale, fairView, takeAlong } from './fairs.schema.js';
import type { BringBack, FairList, FairSale, FairView, TakeAlong } from './fairs.schema.js';
import { FairsService } from './fairs.service.js';
import { shipmentView } from './shipping.schema.js';
import type { ShipmentView } from './shipping.schema.js';

@ApiTags('shipping')
@Controller('api/fairs')
export class FairsController {
  constructor(private readonly fairs: FairsService) {}

  @Get()
  @ApiOperation({ summary: 'Fairs, the last first' })
  @ApiOkResponse({ standardSchema: fairList })
  list(): Promise<FairList> {
    return this.fairs.list();
  }

  @Get(':name')
  @ApiOperation({ summary: 'What was taken to a fair, sold there and is left' })
  @ApiOkResponse({ standardSchema: fairView })
  get(@Param('name', { schema: fairName }) name: string): Promise<FairView> {
    return this.fairs.fair(name);
  }

  @Post(':name/lots')
  @ApiOperation({ summary: 'Take stock along' })
  @ApiCreatedResponse({ standardSchema: fairView })
  takeAlong(
    @Who() who: string,
    @Param('name', { schema: fairName }) name: string,
    @Body({ schema: takeAlong }) body: TakeAlong,
  ): Promise<FairView> {
    return this.fairs.takeAlong(who, name, body);
  }

  @Post(':name/sales')
  @ApiOperation({ summary: 'Sell to somebody who walked in' })
  @ApiCreatedResponse({ standardSchema: shipmentView })
  sell(
    @Who() who: string,
    @Param('name', { schema: fairName }) name: string,
    @Body({ schema: fairSale }) body: FairSale,
  ): Promise<ShipmentView> {
    return this.fairs.sell(who, name, body);
  }

  @Post(':name/back')
  @HttpCode(200)
  @ApiOperation({ summary: 'Bring home what was not sold' })
  @ApiOkResponse({ standardSchema: fairView })
  bringBack(
    @Who() who: string,
    @Param('name', { schema: fairName }) name: string,
    @Body({ schema: bringBack }) body: BringBack,
  ): Promise<FairView> {
    return this.fairs.bringBack(who, name, body);
  }
}
