import { Body, Controller, Get, HttpCode, Param, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { idParam, lineOfText } from '../platform/schema.js';
import { keptSample, sampleCreate, sampleDiscard, sampleList, samplePage, sampleQuery } from './samples.schema.js';
import type { KeptSample, SampleCreate, SampleDiscard, SamplePage, SampleQuery } from './samples.schema.js';
import { SamplesService } from './samples.service.js';

const batchCode = lineOfText(80);

@ApiTags('checks')
@Controller('api')
export class SamplesController {
  constructor(private readonly samples: SamplesService) {}

  @Get('kept-samples')
  @ApiOperation({ summary: 'Samples of batches that are kept, and those whose time is over' })
  @ApiOkResponse({ standardSchema: samplePage })
  list(@Query({ schema: sampleQuery }) query: SampleQuery): Promise<SamplePage> {
    return this.samples.list(query);
  }

  @Get('batches/:code/samples')
  @ApiOperation({ summary: 'What is kept of a batch' })
  @ApiOkResponse({ standardSchema: sampleList })
  ofBatch(@Param('code', { schema: batchCode }) code: string): Promise<{ samples: KeptSample[] }> {
    return this.samples.ofBatch(code);
  }

  @Post('batches/:code/samples')
  @ApiOperation({ summary: 'Keep some of what a batch made' })
  @ApiCreatedResponse({ standardSchema: sampleList })
  keep(
    @Who() who: string,
    @Param('code', { schema: batchCode }) code: string,
    @Body({ schema: sampleCreate }) body: SampleCreate,
  ): Promise<{ samples: KeptSample[] }> {
    return this.samples.keep(who, code, body);
  }

  @Post('kept-samples/:id/discard')
  @HttpCode(200)
  @ApiOperation({ summary: 'Write down that a sample was thrown away' })
  @ApiOkResponse({ standardSchema: keptSample })
  discard(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: sampleDiscard }) body: SampleDiscard,
  ): Promise<KeptSample> {
    return this.samples.discard(who, id, body);
  }
}
