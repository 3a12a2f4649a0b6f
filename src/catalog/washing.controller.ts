import { Body, Controller, Delete, Get, HttpCode, Param, Put } from '@nestjs/common';
import { ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { washingList, washingPath, washingPut, washingView } from './washing.schema.js';
import type { WashingPath, WashingPut, WashingView } from './washing.schema.js';
import { WashingService } from './washing.service.js';

@ApiTags('workshop')
@Controller('api/washing')
export class WashingController {
  constructor(private readonly washing: WashingService) {}

  @Get()
  @ApiOperation({ summary: 'What vessels are washed for between two pours' })
  @ApiOkResponse({ standardSchema: washingList })
  list(): Promise<{ washing: WashingView[] }> {
    return this.washing.list();
  }

  @Put()
  @ApiOperation({ summary: 'Say how long, in the place of what was said of the same' })
  @ApiOkResponse({ standardSchema: washingView })
  put(@Who() who: string, @Body({ schema: washingPut }) body: WashingPut): Promise<WashingView> {
    return this.washing.put(who, body);
  }

  @Delete(':id')
  @HttpCode(204)
  @ApiOperation({ summary: 'Say nothing of it any more' })
  @ApiNoContentResponse()
  takeBack(@Who() who: string, @Param({ schema: washingPath }) { id }: WashingPath): Promise<void> {
    return this.washing.takeBack(who, id);
  }
}
