import { Body, Controller, Delete, Get, HttpCode, Param, Post } from '@nestjs/common';
import { ApiCreatedResponse, ApiNoContentResponse, ApiOkResponse, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { idParam } from '../platform/schema.js';
import { CommitService } from './commit.service.js';
import {
  atRiskListSchema,
  committedSchema,
  type CreateRun,
  createRunSchema,
  needsSchema,
  runListSchema,
  runSchema,
  shortfallsSchema,
} from './planning.schema.js';
import { PlanningService } from './planning.service.js';

@ApiTags('runs')
@Controller('api/runs')
export class PlanningController {
  constructor(
    private readonly planning: PlanningService,
    private readonly commits: CommitService,
  ) {}

  @Post()
  @ApiCreatedResponse({ standardSchema: runSchema })
  create(@Who() who: string, @Body({ schema: createRunSchema }) body: CreateRun) {
    return this.planning.makeDraft(who, body.weekStart);
  }

  @Get()
  @ApiOkResponse({ standardSchema: runListSchema })
  list() {
    return this.planning.list();
  }

  @Get(':id')
  @ApiOkResponse({ standardSchema: runSchema })
  get(@Param('id', { schema: idParam }) id: number) {
    return this.planning.get(id);
  }

  @Get(':id/needs')
  @ApiOkResponse({ standardSchema: needsSchema })
  needs(@Param('id', { schema: idParam }) id: number) {
    return this.planning.needs(id);
  }

  @Get(':id/shortfalls')
  @ApiOkResponse({ standardSchema: shortfallsSchema })
  shortfalls(@Param('id', { schema: idParam }) id: number) {
    return this.planning.shortfalls(id);
  }

  @Get(':id/at-risk')
  @ApiOkResponse({ standardSchema: atRiskListSchema })
  atRisk(@Param('id', { schema: idParam }) id: number) {
    return this.planning.atRisk(id);
  }

  @Post(':id/commit')
  @HttpCode(200)
  @ApiOkResponse({ standardSchema: committedSchema })
  commit(@Who() who: string, @Param('id', { schema: idParam }) id: number) {
    return this.commits.commit(who, id);
  }

  @Delete(':id')
  @HttpCode(204)
  @ApiNoContentResponse()
  discard(@Who() who: string, @Param('id', { schema: idParam }) id: number) {
    return this.planning.discard(who, id);
  }
}
