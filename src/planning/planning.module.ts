import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { BatchesModule } from '../batches/batches.module.js';
import { StockModule } from '../stock/stock.module.js';
import { BatchStock } from './batch-stock.service.js';
import { ChangeService } from './change.service.js';
import { CommitService } from './commit.service.js';
import { CoverageService } from './coverage.service.js';
import { LateLineService } from './late-line.service.js';
import { LateLinesController } from './late-lines.controller.js';
import { PlanningController } from './planning.controller.js';
import { Run } from './planning.entity.js';
import { PlanningService } from './planning.service.js';
import { CompareService } from './compare.service.js';
import { ShelfService } from './shelf.service.js';
import { SnapshotService } from './snapshot.service.js';
import { PlanningThreads } from './threads/planning-threads.js';
import { UndoService } from './undo.service.js';
import { WeekService } from './week.service.js';
import { WhyService } from './why.service.js';

@Module({
  imports: [TypeOrmModule.forFeature([Run]), BatchesModule, StockModule],
  controllers: [PlanningController, LateLinesController],
  providers: [
    PlanningService,
    WeekService,
    WhyService,
    LateLineService,
    CompareService,
    CommitService,
    UndoService,
    ChangeService,
    CoverageService,
    BatchStock,
    ShelfService,
    SnapshotService,
    PlanningThreads,
  ],
  exports: [
    PlanningService,
    WeekService,
    WhyService,
    LateLineService,
    CompareService,
    CommitService,
    UndoService,
    ChangeService,
    CoverageService,
    ShelfService,
    SnapshotService,
    PlanningThreads,
  ],
})
export class PlanningModule {}
