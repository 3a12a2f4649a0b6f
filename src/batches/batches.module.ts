import { Module } from '@nestjs/common';
import { BatchesService } from './batches.service.js';
import { FindService } from './find.service.js';

@Module({ providers: [BatchesService, FindService], exports: [BatchesService, FindService] })
export class BatchesModule {}
