import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { ActsController } from './acts.controller.js';
import { CountService } from './count.service.js';
import { HoldService } from './hold.service.js';
import { IssueService } from './issue.service.js';
import { LotsService } from './lots.service.js';
import { RetestService } from './retest.service.js';
import { RevaluationService } from './revaluation.service.js';
import { SplitService } from './split.service.js';
import { StockController } from './stock.controller.js';
import { StockService } from './stock.service.js';
import { Lot, Movement } from './stock.entity.js';

@Module({
  imports: [TypeOrmModule.forFeature([Lot, Movement])],
  controllers: [StockController, ActsController],
  providers: [
    CountService,
    HoldService,
    IssueService,
    LotsService,
    RetestService,
    RevaluationService,
    SplitService,
    StockService,
  ],
  exports: [CountService, HoldService, IssueService, LotsService, RetestService, SplitService, StockService],
})
export class StockModule {}
