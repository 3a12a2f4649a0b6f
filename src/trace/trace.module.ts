import { Module } from '@nestjs/common';
import { BenchModule } from '../bench/bench.module.js';
import { ChecksModule } from '../checks/checks.module.js';
import { PurchasingModule } from '../purchasing/purchasing.module.js';
import { AccountService } from './account.service.js';
import { AnnouncedService } from './announced.service.js';
import { ComplaintsController } from './complaints.controller.js';
import { ComplaintsService } from './complaints.service.js';
import { ContactsService } from './contacts.service.js';
import { CustomersController } from './customers.controller.js';
import { DrillService } from './drill.service.js';
import { EpcisService } from './epcis.service.js';
import { ErasureService } from './erasure.service.js';
import { ExchangeController } from './exchange.controller.js';
import { FindService } from './find.service.js';
import { LedgerController } from './ledger.controller.js';
import { LedgerService } from './ledger.service.js';
import { LotBookService } from './lot-book.service.js';
import { PapersService } from './papers.service.js';
import { RecallHoldsService } from './recall-holds.service.js';
import { RecallsController } from './recalls.controller.js';
import { RecallsService } from './recalls.service.js';
import { TraceSettingsService } from './settings.service.js';
import { SharesService } from './shares.service.js';
import { SuspicionService } from './suspicion.service.js';
import { TraceController } from './trace.controller.js';
import { TraceService } from './trace.service.js';

@Module({
  imports: [ChecksModule, BenchModule, PurchasingModule],
  controllers: [
    LedgerController,
    TraceController,
    ExchangeController,
    ComplaintsController,
    CustomersController,
    RecallsController,
  ],
  providers: [
    AccountService,
    AnnouncedService,
    ComplaintsService,
    ContactsService,
    DrillService,
    EpcisService,
    ErasureService,
    FindService,
    LedgerService,
    LotBookService,
    PapersService,
    RecallHoldsService,
    RecallsService,
    SharesService,
    SuspicionService,
    TraceService,
    TraceSettingsService,
  ],
  exports: [
    AccountService,
    ComplaintsService,
    ContactsService,
    DrillService,
    ErasureService,
    FindService,
    LotBookService,
    PapersService,
    RecallHoldsService,
    RecallsService,
    SharesService,
    SuspicionService,
    TraceService,
    TraceSettingsService,
  ],
})
export class TraceModule {}
