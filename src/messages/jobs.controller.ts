import { Controller, Get, Header, HttpCode, Param, Post } from '@nestjs/common';
import { ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiProduces, ApiTags } from '@nestjs/swagger';
import { z } from 'zod';
import { Who } from '../platform/person.js';
import { jobPath, jobsView, messagePath } from './jobs.schema.js';
import { JobsService } from './jobs.service.js';
import { OutboxService } from './outbox.service.js';
import { QueueService } from './queue.service.js';

@ApiTags('jobs')
@Controller()
export class JobsController {
  constructor(
    private readonly jobs: JobsService,
    private readonly outbox: OutboxService,
    private readonly queue: QueueService,
  ) {}

  @Get('api/jobs')
  @ApiOperation({ summary: 'How the jobs are doing: queue, outbox, last errors' })
  @ApiOkResponse({ standardSchema: jobsView })
  view() {
    return this.jobs.view();
  }

  @Post('api/jobs/:id/retry')
  @HttpCode(204)
  @ApiOperation({ summary: 'Have a job that failed done again' })
  @ApiNoContentResponse()
  retry(@Param({ schema: jobPath }) { id }: z.infer<typeof jobPath>): Promise<void> {
    return this.queue.retry(id);
  }

  @Post('api/messages/:message/retry')
  @HttpCode(204)
  @ApiOperation({ summary: 'Try a message at once that waits for its next try' })
  @ApiNoContentResponse()
  retryMessage(
    @Who() who: string,
    @Param({ schema: messagePath }) { message }: z.infer<typeof messagePath>,
  ): Promise<void> {
    return this.outbox.retry(who, message);
  }

  @Get('metrics')
  @Header('content-type', 'text/plain; version=0.0.4; charset=utf-8')
  @ApiOperation({ summary: 'The same as numbers for a monitoring system' })
  @ApiProduces('text/plain')
  @ApiOkResponse({ standardSchema: z.string() })
  metrics(): Promise<string> {
    return this.jobs.metrics();
  }
}
