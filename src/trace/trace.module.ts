import { Module } from '@nestjs/common';
import { SharesService } from './shares.service.js';
import { TraceController } from './trace.controller.js';
import { TraceService } from './trace.service.js';

@Module({
  controllers: [TraceController],
  providers: [SharesService, TraceService],
  exports: [SharesService, TraceService],
})
export class TraceModule {}
