import { Controller, Get, Param } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { lineOfText } from '../platform/schema.js';
import { LateLineService } from './late-line.service.js';
import { lateLineSchema } from './late-lines.schema.js';

@ApiTags('runs')
@Controller('api/late-lines')
export class LateLinesController {
  constructor(private readonly late: LateLineService) {}

  @Get(':key')
  @ApiOperation({ summary: 'What would have to give way for an order line to be in time, as everything is now' })
  @ApiOkResponse({ standardSchema: lateLineSchema })
  ask(@Param('key', { schema: lineOfText(200) }) key: string) {
    return this.late.ask(key);
  }
}
