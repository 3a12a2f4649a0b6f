import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { BatchesModule } from '../batches/batches.module.js';
import { StockModule } from '../stock/stock.module.js';
import { CommitService } from './commit.service.js';
import { PlanningController } from './planning.controller.js';
import { Run } from './planning.entity.js';
import { PlanningService } from './planning.service.js';
import { SnapshotService } from './snapshot.service.js';

@Module({
  imports: [TypeOrmModule.forFeature([Run]), BatchesModule, StockModule],
  controllers: [PlanningController],
  providers: [PlanningService, CommitService, SnapshotService],
  exports: [PlanningService, CommitService, SnapshotService],
})
export class PlanningModule {}
