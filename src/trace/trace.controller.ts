import { Controller, Get, Param, Query } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { accountQuery, accountView } from './account.schema.js';
import type { AccountQuery, AccountView } from './account.schema.js';
import { AccountService } from './account.service.js';
import { SharesService } from './shares.service.js';
import { lotCode, sharesView, traceQuery, traceView } from './trace.schema.js';
import type { SharesView, TraceQuery, TraceView } from './trace.schema.js';
import { TraceService } from './trace.service.js';

@ApiTags('trace')
@Controller('api/trace/lots/:code')
export class TraceController {
  constructor(
    private readonly traces: TraceService,
    private readonly sharing: SharesService,
    private readonly accounts: AccountService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'Everything a lot comes of, and everything and everyone it reached' })
  @ApiOkResponse({ standardSchema: traceView })
  trace(
    @Param('code', { schema: lotCode }) code: string,
    @Query({ schema: traceQuery }) query: TraceQuery,
  ): Promise<TraceView> {
    return this.traces.trace(code, query.direction);
  }

  @Get('shares')
  @ApiOperation({ summary: 'What else shares its delivery, its materials, its pour day, its vessel, its makers' })
  @ApiOkResponse({ standardSchema: sharesView })
  shares(@Param('code', { schema: lotCode }) code: string): Promise<SharesView> {
    return this.sharing.shares(code);
  }

  @Get('account')
  @ApiOperation({
    summary: 'Where all of it is now, lot by lot: by the book, and as far as counts and answers confirm it',
  })
  @ApiOkResponse({ standardSchema: accountView })
  account(
    @Param('code', { schema: lotCode }) code: string,
    @Query({ schema: accountQuery }) query: AccountQuery,
  ): Promise<AccountView> {
    return this.accounts.account(code, query);
  }
}
