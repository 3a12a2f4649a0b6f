import { Module } from '@nestjs/common';
import { BatchesModule } from '../batches/batches.module.js';
import { StockModule } from '../stock/stock.module.js';
import { BenchRulesService } from './bench-rules.service.js';
import { BenchService } from './bench.service.js';
import { ChecksController } from './checks.controller.js';
import { ChecksService } from './checks.service.js';
import { FinishService } from './finish.service.js';
import { LabelsController } from './labels.controller.js';
import { LabelsService } from './labels.service.js';
import { LifeController } from './life.controller.js';
import { PauseService } from './pause.service.js';
import { PhotoStore } from './photo-store.js';
import { ProductionController } from './production.controller.js';
import { RecordService } from './record.service.js';
import { RejectService } from './reject.service.js';
import { ReleaseService } from './release.service.js';
import { RescaleService } from './rescale.service.js';
import { ReworkService } from './rework.service.js';
import { SamplesController } from './samples.controller.js';
import { SamplesService } from './samples.service.js';
import { SetPackingService } from './set-packing.service.js';
import { WeighingService } from './weighing.service.js';

@Module({
  imports: [BatchesModule, StockModule],
  controllers: [ProductionController, LifeController, ChecksController, LabelsController, SamplesController],
  providers: [
    BenchRulesService,
    BenchService,
    ChecksService,
    FinishService,
    LabelsService,
    PauseService,
    PhotoStore,
    RecordService,
    RejectService,
    ReleaseService,
    RescaleService,
    ReworkService,
    SamplesService,
    SetPackingService,
    WeighingService,
  ],
  exports: [
    BenchRulesService,
    BenchService,
    ChecksService,
    FinishService,
    LabelsService,
    PauseService,
    PhotoStore,
    RecordService,
    RejectService,
    ReleaseService,
    RescaleService,
    ReworkService,
    SamplesService,
    SetPackingService,
    WeighingService,
  ],
})
export class ProductionModule {}
