import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { ActsController } from './acts.controller.js';
import { CorrectionService } from './correction.service.js';
import { CountService } from './count.service.js';
import { HoldService } from './hold.service.js';
import { IssueService } from './issue.service.js';
import { LedgerController } from './ledger.controller.js';
import { LedgerService } from './ledger.service.js';
import { LotBookService } from './lot-book.service.js';
import { LotsService } from './lots.service.js';
import { RetestService } from './retest.service.js';
import { RevaluationService } from './revaluation.service.js';
import { SetAsideService } from './set-aside.service.js';
import { ShelfService } from './shelf.service.js';
import { SplitService } from './split.service.js';
import { StockController } from './stock.controller.js';
import { StockService } from './stock.service.js';
import { Lot, Movement } from './stock.entity.js';

@Module({
  imports: [TypeOrmModule.forFeature([Lot, Movement])],
  controllers: [StockController, ActsController, LedgerController],
  providers: [
    CorrectionService,
    CountService,
    HoldService,
    IssueService,
    LedgerService,
    LotBookService,
    LotsService,
    RetestService,
    RevaluationService,
    SetAsideService,
    ShelfService,
    SplitService,
    StockService,
  ],
  exports: [
    CorrectionService,
    CountService,
    HoldService,
    IssueService,
    LotBookService,
    LotsService,
    RetestService,
    SetAsideService,
    ShelfService,
    SplitService,
    StockService,
  ],
})
export class StockModule {}
