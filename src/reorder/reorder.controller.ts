import { Body, Controller, Delete, Get, Param, Post, Put } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { itemCode } from '../platform/schema.js';
import { type PurchaseOrderView, purchaseOrderView } from '../purchasing/purchase-orders.schema.js';
import {
  itemOutlookSchema,
  type ReorderDraft,
  reorderDraft,
  reorderSchema,
  type RulePut,
  rulePut,
  ruleView,
  type SettingsPut,
  settingsPut,
  settingsView,
} from './reorder.schema.js';
import { ReorderService } from './reorder.service.js';
import { type SaidPut, saidPut, saidView } from './said-use.schema.js';
import { SaidUseService } from './said-use.service.js';
import { ReorderSettingsService } from './settings.service.js';

@ApiTags('reorder')
@Controller('api/reorder')
export class ReorderController {
  constructor(
    private readonly reorder: ReorderService,
    private readonly settings: ReorderSettingsService,
    private readonly said: SaidUseService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'What to buy, how much, by which day, and what to order together' })
  @ApiOkResponse({ standardSchema: reorderSchema })
  list() {
    return this.reorder.list();
  }

  @Post('drafts')
  @ApiOperation({
    summary: 'Draft a purchase order of what is to be ordered from a supplier, or add it to the draft there is',
  })
  @ApiCreatedResponse({ standardSchema: purchaseOrderView })
  draft(@Who() who: string, @Body({ schema: reorderDraft }) body: ReorderDraft): Promise<PurchaseOrderView> {
    return this.reorder.draft(who, body);
  }

  @Get('settings')
  @ApiOperation({ summary: 'The service that is wanted, and how often is looked' })
  @ApiOkResponse({ standardSchema: settingsView })
  getSettings() {
    return this.settings.get();
  }

  @Put('settings')
  @ApiOperation({ summary: 'Say which service is wanted, and how often is looked' })
  @ApiOkResponse({ standardSchema: settingsView })
  putSettings(@Who() who: string, @Body({ schema: settingsPut }) body: SettingsPut) {
    return this.settings.put(who, body);
  }

  @Get('items/:code')
  @ApiOperation({ summary: 'Use of one item by week, how each forecast did on it, and its row on the list' })
  @ApiOkResponse({ standardSchema: itemOutlookSchema })
  one(@Param('code', { schema: itemCode }) code: string) {
    return this.reorder.one(code);
  }

  @Get('items/:code/rule')
  @ApiOperation({ summary: 'What is wanted of one item, where it differs' })
  @ApiOkResponse({ standardSchema: ruleView })
  rule(@Param('code', { schema: itemCode }) code: string) {
    return this.settings.rule(code);
  }

  @Put('items/:code/rule')
  @ApiOperation({ summary: 'Say which service is wanted of one item, and how long an own trial of it takes' })
  @ApiOkResponse({ standardSchema: ruleView })
  putRule(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: rulePut }) body: RulePut,
  ) {
    return this.settings.putRule(who, code, body);
  }

  @Get('items/:code/said')
  @ApiOperation({ summary: "What is said of one item's use until its own says enough" })
  @ApiOkResponse({ standardSchema: saidView })
  getSaid(@Param('code', { schema: itemCode }) code: string) {
    return this.said.get(code);
  }

  @Put('items/:code/said')
  @ApiOperation({ summary: 'Say that an item is used like another, or how much is used of it' })
  @ApiOkResponse({ standardSchema: saidView })
  putSaid(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: saidPut }) body: SaidPut,
  ) {
    return this.said.put(who, code, body);
  }

  @Delete('items/:code/said')
  @ApiOperation({ summary: 'Take back what is said: only its own use speaks' })
  @ApiOkResponse({ standardSchema: saidView })
  takeSaidBack(@Who() who: string, @Param('code', { schema: itemCode }) code: string) {
    return this.said.takeBack(who, code);
  }
}
