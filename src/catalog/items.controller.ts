import { Body, Controller, Get, Param, Patch, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { itemCode } from '../platform/schema.js';
import type {
  ItemCreate,
  ItemPage,
  ItemPatch,
  ItemQuery,
  ItemView,
  UseLimitCreate,
  UseLimitView,
} from './items.schema.js';
import {
  itemCreate,
  itemPage,
  itemPatch,
  itemQuery,
  itemView,
  useLimitCreate,
  useLimitList,
  useLimitView,
} from './items.schema.js';
import { ItemsService } from './items.service.js';

@ApiTags('catalog')
@Controller('api/items')
export class ItemsController {
  constructor(private readonly items: ItemsService) {}

  @Get()
  @ApiOperation({ summary: 'Items by code, one page at a time' })
  @ApiOkResponse({ standardSchema: itemPage })
  list(@Query({ schema: itemQuery }) query: ItemQuery): Promise<ItemPage> {
    return this.items.list(query);
  }

  @Post()
  @ApiOperation({ summary: 'Add an item' })
  @ApiCreatedResponse({ standardSchema: itemView })
  create(@Who() who: string, @Body({ schema: itemCreate }) body: ItemCreate): Promise<ItemView> {
    return this.items.create(who, body);
  }

  @Get(':code')
  @ApiOperation({ summary: 'One item' })
  @ApiOkResponse({ standardSchema: itemView })
  get(@Param('code', { schema: itemCode }) code: string): Promise<ItemView> {
    return this.items.get(code);
  }

  @Patch(':code')
  @ApiOperation({ summary: 'Change what is stated about an item' })
  @ApiOkResponse({ standardSchema: itemView })
  change(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: itemPatch }) body: ItemPatch,
  ): Promise<ItemView> {
    return this.items.change(who, code, body);
  }

  @Get(':code/use-limits')
  @ApiOperation({ summary: 'The largest part of it allowed in each category of product' })
  @ApiOkResponse({ standardSchema: useLimitList })
  useLimits(@Param('code', { schema: itemCode }) code: string): Promise<{ useLimits: UseLimitView[] }> {
    return this.items.useLimits(code);
  }

  @Post(':code/use-limits')
  @ApiOperation({ summary: 'Record the limit of one category, with its source and date' })
  @ApiCreatedResponse({ standardSchema: useLimitView })
  setUseLimit(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: useLimitCreate }) body: UseLimitCreate,
  ): Promise<UseLimitView> {
    return this.items.setUseLimit(who, code, body);
  }
}
