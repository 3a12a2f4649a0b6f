import { Body, Controller, Delete, Get, Header, HttpCode, Param, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { ApiProblem } from '../platform/problem-schema.js';
import { idParam } from '../platform/schema.js';
import { ChangeService } from './change.service.js';
import { CommitService } from './commit.service.js';
import {
  atRiskListSchema,
  type BatchCodePath,
  batchCodePath,
  type ChangeBatch,
  changeBatchSchema,
  changedBatchSchema,
  type CommitQuery,
  commitQuery,
  committedSchema,
  type CreateRun,
  createRunSchema,
  needsSchema,
  planProblem,
  runListSchema,
  runSchema,
  shortfallsSchema,
  undoneSchema,
  type UndoRun,
  undoRunSchema,
} from './planning.schema.js';
import { PlanningService } from './planning.service.js';
import { UndoService } from './undo.service.js';

@ApiTags('runs')
@Controller('api/runs')
export class PlanningController {
  constructor(
    private readonly planning: PlanningService,
    private readonly commits: CommitService,
    private readonly undos: UndoService,
    private readonly changes: ChangeService,
  ) {}

  @Post()
  @ApiOperation({ summary: 'Plan a week as a draft; nothing is reserved' })
  @ApiCreatedResponse({ standardSchema: runSchema })
  // comes as its text
  @Header('content-type', 'application/json; charset=utf-8')
  create(@Who() who: string, @Body({ schema: createRunSchema }) body: CreateRun) {
    return this.planning.makeDraft(who, body.weekStart);
  }

  @Get()
  @ApiOperation({ summary: 'Plans, the newest first' })
  @ApiOkResponse({ standardSchema: runListSchema })
  list() {
    return this.planning.list();
  }

  @Get(':id')
  @ApiOperation({ summary: 'One plan with its whole proposal' })
  @ApiOkResponse({ standardSchema: runSchema })
  get(@Param('id', { schema: idParam }) id: number) {
    return this.planning.get(id);
  }

  @Get(':id/needs')
  @ApiOperation({ summary: 'What a plan needs of every material' })
  @ApiOkResponse({ standardSchema: needsSchema })
  needs(@Param('id', { schema: idParam }) id: number) {
    return this.planning.needs(id);
  }

  @Get(':id/shortfalls')
  @ApiOperation({ summary: 'What nothing covers, whom it hurts, what to order by when' })
  @ApiOkResponse({ standardSchema: shortfallsSchema })
  shortfalls(@Param('id', { schema: idParam }) id: number) {
    return this.planning.shortfalls(id);
  }

  @Get(':id/at-risk')
  @ApiOperation({ summary: 'Lots likely to expire unused' })
  @ApiOkResponse({ standardSchema: atRiskListSchema })
  atRisk(@Param('id', { schema: idParam }) id: number) {
    return this.planning.atRisk(id);
  }

  @Post(':id/commit')
  @ApiProblem(planProblem)
  @ApiOperation({ summary: 'Turn a draft into batches with their lots set aside' })
  @HttpCode(200)
  @ApiOkResponse({ standardSchema: committedSchema })
  commit(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Query({ schema: commitQuery }) query: CommitQuery,
  ) {
    return this.commits.commit(who, id, query.replan === 'true');
  }

  @Post(':id/undo')
  @ApiProblem(planProblem)
  @ApiOperation({ summary: 'Take a committed plan back, as long as nothing of it has begun' })
  @HttpCode(200)
  @ApiOkResponse({ standardSchema: undoneSchema })
  undo(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: undoRunSchema }) body: UndoRun,
  ) {
    return this.undos.undo(who, id, body.why);
  }

  @Post(':id/batches/:code/change')
  @ApiProblem(planProblem)
  @ApiOperation({ summary: 'Move, resize or cancel one batch of a committed plan' })
  @HttpCode(200)
  @ApiOkResponse({ standardSchema: changedBatchSchema })
  change(
    @Who() who: string,
    @Param({ schema: batchCodePath }) path: BatchCodePath,
    @Body({ schema: changeBatchSchema }) body: ChangeBatch,
  ) {
    return this.changes.change(who, path.id, path.code, body);
  }

  @Delete(':id')
  @ApiOperation({ summary: 'Throw a draft away' })
  @HttpCode(204)
  @ApiNoContentResponse()
  discard(@Who() who: string, @Param('id', { schema: idParam }) id: number) {
    return this.planning.discard(who, id);
  }
}
