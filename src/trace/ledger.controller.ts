import { Controller, Get, Query, StreamableFile } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiProduces, ApiTags } from '@nestjs/swagger';
import { ledgerQuery, stockOnDay, stockQuery } from './ledger.schema.js';
import type { LedgerQuery, StockOnDay, StockQuery } from './ledger.schema.js';
import { LedgerService } from './ledger.service.js';

@ApiTags('stock')
@Controller('api')
export class LedgerController {
  constructor(private readonly ledger: LedgerService) {}

  @Get('stock')
  @ApiOperation({ summary: 'What was on hand at the end of a day, and its value, by item and lot' })
  @ApiOkResponse({ standardSchema: stockOnDay })
  onDay(@Query({ schema: stockQuery }) query: StockQuery): Promise<StockOnDay> {
    return this.ledger.onDay(query);
  }

  @Get('ledger.csv')
  @ApiOperation({ summary: 'The ledger as a table, safe to open in a spreadsheet' })
  @ApiProduces('text/csv')
  @ApiOkResponse({ schema: { type: 'string' } })
  async csv(@Query({ schema: ledgerQuery }) query: LedgerQuery): Promise<StreamableFile> {
    return new StreamableFile(await this.ledger.csv(query), {
      type: 'text/csv; charset=utf-8; header=present',
      disposition: 'attachment; filename="ledger.csv"',
    });
  }
}
