import { Controller, Get } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { reorderSchema } from './reorder.schema.js';
import { ReorderService } from './reorder.service.js';

@ApiTags('reorder')
@Controller('api/reorder')
export class ReorderController {
  constructor(private readonly reorder: ReorderService) {}

  @Get()
  @ApiOperation({ summary: 'What to buy, how much, by which day' })
  @ApiOkResponse({ standardSchema: reorderSchema })
  list() {
    return this.reorder.list();
  }
}
