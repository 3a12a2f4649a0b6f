import { Readable } from 'node:stream';
import { Body, Controller, Get, HttpCode, Param, Patch, Post, Query, Req } from '@nestjs/common';
import { ApiBody, ApiConsumes, ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { FastifyRequest } from 'fastify';
import { Who } from '../platform/person.js';
import { ApiProblem } from '../platform/problem-schema.js';
import { Problem } from '../platform/problem.js';
import { readColumnMap } from './columns.js';
import { ImportService } from './import.service.js';
import { importProblem, importQuery, importReport } from './import.schema.js';
import type { ImportQuery, ImportReport } from './import.schema.js';
import { OrdersService } from './orders.service.js';
import { orderChange, orderCreate, orderPage, orderPath, orderQuery, orderView } from './orders.schema.js';
import type { OrderChange, OrderCreate, OrderPage, OrderPath, OrderQuery, OrderView } from './orders.schema.js';

@ApiTags('orders')
@Controller('api/orders')
export class OrdersController {
  constructor(
    private readonly orders: OrdersService,
    private readonly imports: ImportService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'Orders, the newest first, one page at a time' })
  @ApiOkResponse({ standardSchema: orderPage })
  list(@Query({ schema: orderQuery }) query: OrderQuery): Promise<OrderPage> {
    return this.orders.list(query);
  }

  @Post()
  @ApiOperation({ summary: 'Add an order' })
  @ApiCreatedResponse({ standardSchema: orderView })
  create(@Who() who: string, @Body({ schema: orderCreate }) body: OrderCreate): Promise<OrderView> {
    return this.orders.create(who, body);
  }

  @Post('import')
  @HttpCode(200)
  @ApiProblem(importProblem)
  @ApiOperation({ summary: "Take in a shop's export of order lines" })
  @ApiConsumes('text/csv')
  @ApiBody({ schema: { type: 'string' }, description: 'CSV with a header, up to 32 MB' })
  @ApiOkResponse({ standardSchema: importReport })
  import(
    @Who() who: string,
    @Query({ schema: importQuery }) { map, ...query }: ImportQuery,
    @Req() request: FastifyRequest,
  ): Promise<ImportReport> {
    return this.imports.importOrders({ ...query, who, columnMap: readColumnMap(map), stream: csvOf(request) });
  }

  @Get(':channel/:number')
  @ApiOperation({ summary: 'One order with its lines' })
  @ApiOkResponse({ standardSchema: orderView })
  get(@Param({ schema: orderPath }) path: OrderPath): Promise<OrderView> {
    return this.orders.get(path);
  }

  @Patch(':channel/:number')
  @ApiOperation({ summary: 'Say what an order counts as, whether it is urgent, and how it is sent' })
  @ApiOkResponse({ standardSchema: orderView })
  change(
    @Who() who: string,
    @Param({ schema: orderPath }) path: OrderPath,
    @Body({ schema: orderChange }) body: OrderChange,
  ): Promise<OrderView> {
    return this.orders.change(who, path, body);
  }

  @Post(':channel/:number/confirm')
  @HttpCode(200)
  @ApiOperation({ summary: 'Plan an order that was waiting' })
  @ApiOkResponse({ standardSchema: orderView })
  confirm(@Who() who: string, @Param({ schema: orderPath }) path: OrderPath): Promise<OrderView> {
    return this.orders.confirm(who, path);
  }

  @Post(':channel/:number/cancel')
  @HttpCode(200)
  @ApiOperation({ summary: 'Cancel what is still open of an order' })
  @ApiOkResponse({ standardSchema: orderView })
  cancel(@Who() who: string, @Param({ schema: orderPath }) path: OrderPath): Promise<OrderView> {
    return this.orders.cancel(who, path);
  }
}

function csvOf(request: FastifyRequest): Readable {
  const isForm = request.headers['content-type']?.startsWith('multipart/') ?? false;
  if (request.body instanceof Readable && !isForm) return request.body;
  throw new Problem({ status: 415, code: 'unsupported-media-type', detail: 'Send the file as text/csv.' });
}
