import { Module } from '@nestjs/common';
import { BatchesModule } from '../batches/batches.module.js';
import { ChecksModule } from '../checks/checks.module.js';
import { StockModule } from '../stock/stock.module.js';
import { BenchController } from './bench.controller.js';
import { BenchService } from './bench.service.js';
import { FinishService } from './finish.service.js';
import { LifeController } from './life.controller.js';
import { PauseService } from './pause.service.js';
import { RecordService } from './record.service.js';
import { RejectService } from './reject.service.js';
import { ReleaseService } from './release.service.js';
import { RescaleService } from './rescale.service.js';
import { ReworkService } from './rework.service.js';
import { SetPackingService } from './set-packing.service.js';
import { WeighingService } from './weighing.service.js';

const SERVICES = [
  BenchService,
  FinishService,
  PauseService,
  RecordService,
  RejectService,
  ReleaseService,
  RescaleService,
  ReworkService,
  SetPackingService,
  WeighingService,
];

@Module({
  imports: [BatchesModule, ChecksModule, StockModule],
  controllers: [BenchController, LifeController],
  providers: SERVICES,
  exports: SERVICES,
})
export class BenchModule {}
