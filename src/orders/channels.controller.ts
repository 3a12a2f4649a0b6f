import { Body, Controller, Get, Param, Patch, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { ChannelsService } from './channels.service.js';
import {
  channelChange,
  channelCode,
  channelCreate,
  channelList,
  channelView,
  shopCodePage,
  shopCodeQuery,
  shopCodeSet,
  shopCodeView,
} from './orders.schema.js';
import type {
  ChannelChange,
  ChannelCreate,
  ChannelView,
  ShopCodePage,
  ShopCodeQuery,
  ShopCodeSet,
  ShopCodeView,
} from './orders.schema.js';

@ApiTags('orders')
@Controller('api')
export class ChannelsController {
  constructor(private readonly channels: ChannelsService) {}

  @Get('channels')
  @ApiOperation({ summary: 'Where orders come from' })
  @ApiOkResponse({ standardSchema: channelList })
  list(): Promise<{ channels: ChannelView[] }> {
    return this.channels.list();
  }

  @Post('channels')
  @ApiOperation({ summary: 'Add a channel' })
  @ApiCreatedResponse({ standardSchema: channelView })
  create(@Who() who: string, @Body({ schema: channelCreate }) body: ChannelCreate): Promise<ChannelView> {
    return this.channels.create(who, body);
  }

  @Get('channels/:code')
  @ApiOperation({ summary: 'One channel' })
  @ApiOkResponse({ standardSchema: channelView })
  get(@Param('code', { schema: channelCode }) code: string): Promise<ChannelView> {
    return this.channels.get(code);
  }

  @Patch('channels/:code')
  @ApiOperation({ summary: 'Say what the orders of a channel count as, and how they are sent' })
  @ApiOkResponse({ standardSchema: channelView })
  change(
    @Who() who: string,
    @Param('code', { schema: channelCode }) code: string,
    @Body({ schema: channelChange }) body: ChannelChange,
  ): Promise<ChannelView> {
    return this.channels.change(who, code, body);
  }

  @Get('shop-codes')
  @ApiOperation({ summary: 'What the shops call our items, one page at a time' })
  @ApiOkResponse({ standardSchema: shopCodePage })
  shopCodes(@Query({ schema: shopCodeQuery }) query: ShopCodeQuery): Promise<ShopCodePage> {
    return this.channels.shopCodes(query);
  }

  @Post('shop-codes')
  @ApiOperation({ summary: "Say what a shop's code stands for" })
  @ApiCreatedResponse({ standardSchema: shopCodeView })
  setShopCode(@Who() who: string, @Body({ schema: shopCodeSet }) body: ShopCodeSet): Promise<ShopCodeView> {
    return this.channels.setShopCode(who, body);
  }
}
