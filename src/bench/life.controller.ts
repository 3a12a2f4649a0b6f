import { Body, Controller, HttpCode, Param, Post } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { ApiProblem } from '../platform/problem-schema.js';
import { lineOfText } from '../platform/schema.js';
import type { Finished, FinishCreate, Rejected, RejectCreate, Released, ReleaseCreate } from './finish.schema.js';
import {
  closingProblem,
  finishCreate,
  finished,
  rejectCreate,
  rejected,
  releaseCreate,
  released,
} from './finish.schema.js';
import { FinishService } from './finish.service.js';
import { PauseService } from './pause.service.js';
import type { BatchView, PauseCreate, RescaleCreate, Rescaled, ResumeCreate } from './bench.schema.js';
import { batchView, pauseCreate, rescaleCreate, rescaledView, resumeCreate } from './bench.schema.js';
import { RejectService } from './reject.service.js';
import { ReleaseService } from './release.service.js';
import { RescaleService } from './rescale.service.js';
import type { ReworkBatchCreate, ReworkCreate, SetForRework, WorkInCreate } from './rework.schema.js';
import { reworkBatchCreate, reworkCreate, setForRework, workInCreate } from './rework.schema.js';
import { ReworkService } from './rework.service.js';

const code = lineOfText(80);

/** What happens to a batch from the bench to its release. */
@ApiTags('bench')
@Controller('api')
export class LifeController {
  constructor(
    private readonly finishes: FinishService,
    private readonly releases: ReleaseService,
    private readonly rejects: RejectService,
    private readonly reworks: ReworkService,
    private readonly pauses: PauseService,
    private readonly rescales: RescaleService,
  ) {}

  @Post('batches/:code/pause')
  @HttpCode(200)
  @ApiOperation({ summary: 'Interrupt a batch that is begun' })
  @ApiOkResponse({ standardSchema: batchView })
  pause(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: pauseCreate }) body: PauseCreate,
  ): Promise<BatchView> {
    return this.pauses.pause(who, batch, body);
  }

  @Post('batches/:code/resume')
  @HttpCode(200)
  @ApiOperation({ summary: 'Take up a batch again' })
  @ApiOkResponse({ standardSchema: batchView })
  resume(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: resumeCreate }) body: ResumeCreate,
  ): Promise<BatchView> {
    return this.pauses.resume(who, batch, body);
  }

  @Post('batches/:code/rescale')
  @HttpCode(200)
  @ApiOperation({ summary: 'Bring the rest of a batch into proportion with what is in it' })
  @ApiOkResponse({ standardSchema: rescaledView })
  rescale(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: rescaleCreate }) body: RescaleCreate,
  ): Promise<Rescaled> {
    return this.rescales.rescale(who, batch, body);
  }

  @Post('batches/:code/finish')
  @ApiProblem(closingProblem)
  @ApiOperation({ summary: 'Close a batch: the lots it made, what is left over, what was lost' })
  @ApiCreatedResponse({ standardSchema: finished })
  finish(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: finishCreate }) body: FinishCreate,
  ): Promise<Finished> {
    return this.finishes.finish(who, batch, body);
  }

  @Post('batches/:code/release')
  @HttpCode(200)
  @ApiProblem(closingProblem)
  @ApiOperation({ summary: 'Release a batch and the lot it made' })
  @ApiOkResponse({ standardSchema: released })
  release(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: releaseCreate }) body: ReleaseCreate,
  ): Promise<Released> {
    return this.releases.release(who, batch, body);
  }

  @Post('batches/:code/reject')
  @HttpCode(200)
  @ApiOperation({ summary: 'Reject a batch and the lot it made, or give up one that is begun' })
  @ApiOkResponse({ standardSchema: rejected })
  reject(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: rejectCreate }) body: RejectCreate,
  ): Promise<Rejected> {
    return this.rejects.reject(who, batch, body);
  }

  @Post('batches/:code/rework')
  @ApiOperation({ summary: 'Work a rejected lot into a batch, on top of its sheet' })
  @ApiCreatedResponse({ standardSchema: batchView })
  workIn(
    @Who() who: string,
    @Param('code', { schema: code }) batch: string,
    @Body({ schema: workInCreate }) body: WorkInCreate,
  ): Promise<BatchView> {
    return this.reworks.workIn(who, batch, body);
  }

  @Post('lots/:code/rework')
  @ApiOperation({ summary: 'Set a rejected lot aside to go into another batch' })
  @ApiCreatedResponse({ standardSchema: setForRework })
  setForRework(
    @Who() who: string,
    @Param('code', { schema: code }) lot: string,
    @Body({ schema: reworkCreate }) body: ReworkCreate,
  ): Promise<SetForRework> {
    return this.rejects.setForRework(who, lot, body.why);
  }

  @Post('lots/:code/rework-batch')
  @ApiOperation({ summary: 'A batch of its own that mends a rejected lot' })
  @ApiCreatedResponse({ standardSchema: batchView })
  openRework(
    @Who() who: string,
    @Param('code', { schema: code }) lot: string,
    @Body({ schema: reworkBatchCreate }) body: ReworkBatchCreate,
  ): Promise<BatchView> {
    return this.reworks.open(who, lot, body);
  }
}
