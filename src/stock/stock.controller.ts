import { Body, Controller, Get, HttpCode, Param, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { lineOfText } from '../platform/schema.js';
import { history, historyQuery } from './acts.schema.js';
import type { History, HistoryQuery } from './acts.schema.js';
import { HoldService } from './hold.service.js';
import { LotsService } from './lots.service.js';
import type {
  LotCreate,
  LotPage,
  LotQuery,
  LotView,
  MovementPage,
  MovementQuery,
  StatusChange,
  StatusChanged,
} from './stock.schema.js';
import {
  lotCreate,
  lotPage,
  lotQuery,
  lotView,
  movementPage,
  movementQuery,
  statusChange,
  statusChanged,
} from './stock.schema.js';

const lotCode = lineOfText(80);

@ApiTags('stock')
@Controller('api/lots')
export class StockController {
  constructor(
    private readonly lots: LotsService,
    private readonly holds: HoldService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'Lots by code, one page at a time' })
  @ApiOkResponse({ standardSchema: lotPage })
  list(@Query({ schema: lotQuery }) query: LotQuery): Promise<LotPage> {
    return this.lots.list(query);
  }

  @Post()
  @ApiOperation({ summary: 'Take in a new lot: a delivery from outside, or the opening count' })
  @ApiCreatedResponse({ standardSchema: lotView })
  receive(@Who() who: string, @Body({ schema: lotCreate }) body: LotCreate): Promise<LotView> {
    return this.lots.receive(who, body);
  }

  @Get(':code')
  @ApiOperation({ summary: 'One lot' })
  @ApiOkResponse({ standardSchema: lotView })
  get(@Param('code', { schema: lotCode }) code: string): Promise<LotView> {
    return this.lots.get(code);
  }

  @Get(':code/movements')
  @ApiOperation({ summary: 'Everything that happened to a lot, oldest first' })
  @ApiOkResponse({ standardSchema: movementPage })
  movements(
    @Param('code', { schema: lotCode }) code: string,
    @Query({ schema: movementQuery }) query: MovementQuery,
  ): Promise<MovementPage> {
    return this.lots.movements(code, query);
  }

  @Get(':code/history')
  @ApiOperation({ summary: 'Movements, status changes, retests and counts of a lot, oldest first' })
  @ApiOkResponse({ standardSchema: history })
  history(
    @Param('code', { schema: lotCode }) code: string,
    @Query({ schema: historyQuery }) query: HistoryQuery,
  ): Promise<History> {
    return this.holds.history(code, query);
  }

  @Post(':code/status')
  @HttpCode(200)
  @ApiOperation({ summary: 'Release, hold or reject a lot, and say why' })
  @ApiOkResponse({ standardSchema: statusChanged })
  changeStatus(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: statusChange }) body: StatusChange,
  ): Promise<StatusChanged> {
    return this.holds.changeStatus(who, code, body);
  }
}
