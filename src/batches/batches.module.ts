import { Module } from '@nestjs/common';
import { BatchesService } from './batches.service.js';

@Module({ providers: [BatchesService], exports: [BatchesService] })
export class BatchesModule {}
