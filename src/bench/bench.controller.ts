import { Body, Controller, Get, Param, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { ApiProblem } from '../platform/problem-schema.js';
import { lineOfText } from '../platform/schema.js';
import { BenchService } from './bench.service.js';
import type {
  BatchPage,
  BatchQuery,
  BatchView,
  ReadyDays,
  ReadyQuery,
  Weighed,
  WeighingCreate,
} from './bench.schema.js';
import {
  batchPage,
  batchQuery,
  batchView,
  readyDays,
  readyQuery,
  weighed,
  weighingCreate,
  weighProblem,
} from './bench.schema.js';
import type { BatchRecord } from './record.schema.js';
import { batchRecord } from './record.schema.js';
import { RecordService } from './record.service.js';
import { WeighingService } from './weighing.service.js';

const batchCode = lineOfText(80);

@ApiTags('bench')
@Controller('api/batches')
export class BenchController {
  constructor(
    private readonly bench: BenchService,
    private readonly weighings: WeighingService,
    private readonly records: RecordService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'Batches by code, one page at a time' })
  @ApiOkResponse({ standardSchema: batchPage })
  list(@Query({ schema: batchQuery }) query: BatchQuery): Promise<BatchPage> {
    return this.bench.list(query);
  }

  @Get('ready')
  @ApiOperation({ summary: 'What becomes ready each day' })
  @ApiOkResponse({ standardSchema: readyDays })
  ready(@Query({ schema: readyQuery }) query: ReadyQuery): Promise<ReadyDays> {
    return this.bench.ready(query);
  }

  @Get(':code')
  @ApiOperation({ summary: 'One batch: what goes in, what is set aside and what is weighed' })
  @ApiOkResponse({ standardSchema: batchView })
  get(@Param('code', { schema: batchCode }) code: string): Promise<BatchView> {
    return this.bench.get(code);
  }

  @Get(':code/record')
  @ApiOperation({ summary: 'The whole record of a batch: what went in, by whom and when, and what came of it' })
  @ApiOkResponse({ standardSchema: batchRecord })
  record(@Param('code', { schema: batchCode }) code: string): Promise<BatchRecord> {
    return this.records.record(code);
  }

  @Post(':code/weighings')
  @ApiProblem(weighProblem)
  @ApiOperation({ summary: 'Write down what was weighed of a lot into a batch' })
  @ApiCreatedResponse({ standardSchema: weighed })
  weigh(
    @Who() who: string,
    @Param('code', { schema: batchCode }) code: string,
    @Body({ schema: weighingCreate }) body: WeighingCreate,
  ): Promise<Weighed> {
    return this.weighings.weigh(who, code, body);
  }
}
