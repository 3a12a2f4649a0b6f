import { Body, Controller, Get, HttpCode, Param, Post, Put, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { deliveryCode, deliveryReceived } from '../purchasing/purchasing.schema.js';
import type { DeliveryReceived } from '../purchasing/purchasing.schema.js';
import { AnnouncedService } from './announced.service.js';
import type { EpcisDocument } from './epcis-document.js';
import { announcedView, epcisDocumentView, epcisImport, epcisQuery } from './epcis.schema.js';
import type { AnnouncedView, EpcisImport, EpcisQuery } from './epcis.schema.js';
import { EpcisService } from './epcis.service.js';
import { tradeItemList, tradeItemPut, tradeItemQuery, tradeItemView, traceSettings } from './settings.schema.js';
import type { TradeItemList, TradeItemPut, TradeItemQuery, TradeItemView, TraceSettings } from './settings.schema.js';
import { TraceSettingsService } from './settings.service.js';
import { lotCode } from './trace.schema.js';

@ApiTags('trace')
@Controller('api')
export class ExchangeController {
  constructor(
    private readonly epcis: EpcisService,
    private readonly announced: AnnouncedService,
    private readonly settings: TraceSettingsService,
  ) {}

  @Get('trace/lots/:code/epcis')
  @ApiOperation({ summary: 'The events of a lot as EPCIS 2.0' })
  @ApiOkResponse({ standardSchema: epcisDocumentView })
  document(
    @Param('code', { schema: lotCode }) code: string,
    @Query({ schema: epcisQuery }) query: EpcisQuery,
  ): Promise<EpcisDocument> {
    return this.epcis.document(code, query);
  }

  @Get('deliveries/:code/announced')
  @ApiOperation({ summary: 'Which lots the supplier says are coming' })
  @ApiOkResponse({ standardSchema: announcedView })
  listAnnounced(@Param('code', { schema: deliveryCode }) code: string): Promise<AnnouncedView> {
    return this.announced.list(code);
  }

  @Post('deliveries/:code/announced')
  @HttpCode(200)
  @ApiOperation({ summary: "Read a supplier's EPCIS 2.0 document for an expected delivery" })
  @ApiOkResponse({ standardSchema: announcedView })
  announce(
    @Who() who: string,
    @Param('code', { schema: deliveryCode }) code: string,
    @Body({ schema: epcisImport }) body: EpcisImport,
  ): Promise<AnnouncedView> {
    return this.announced.take(who, code, body);
  }

  @Post('deliveries/:code/receive-announced')
  @HttpCode(200)
  @ApiOperation({ summary: 'Take a delivery in as it was announced' })
  @ApiOkResponse({ standardSchema: deliveryReceived })
  receive(@Who() who: string, @Param('code', { schema: deliveryCode }) code: string): Promise<DeliveryReceived> {
    return this.announced.receive(who, code);
  }

  @Get('trace/settings')
  @ApiOperation({ summary: 'How goods are named to others, how long contacts are kept, and the letter of a recall' })
  @ApiOkResponse({ standardSchema: traceSettings })
  getSettings(): Promise<TraceSettings> {
    return this.settings.get();
  }

  @Put('trace/settings')
  @ApiOperation({ summary: 'Set all of them' })
  @ApiOkResponse({ standardSchema: traceSettings })
  putSettings(@Who() who: string, @Body({ schema: traceSettings }) body: TraceSettings): Promise<TraceSettings> {
    return this.settings.put(who, body);
  }

  @Get('trade-items')
  @ApiOperation({ summary: 'Which trade numbers stand for which items' })
  @ApiOkResponse({ standardSchema: tradeItemList })
  tradeItems(@Query({ schema: tradeItemQuery }) query: TradeItemQuery): Promise<TradeItemList> {
    return this.settings.tradeItems(query);
  }

  @Post('trade-items')
  @ApiOperation({ summary: 'Say which item a trade number stands for' })
  @ApiCreatedResponse({ standardSchema: tradeItemView })
  putTradeItem(@Who() who: string, @Body({ schema: tradeItemPut }) body: TradeItemPut): Promise<TradeItemView> {
    return this.settings.putTradeItem(who, body);
  }
}
