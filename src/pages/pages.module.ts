import { Module } from '@nestjs/common';
import { APP_INTERCEPTOR } from '@nestjs/core';
import { BatchesModule } from '../batches/batches.module.js';
import { CatalogModule } from '../catalog/catalog.module.js';
import { DemoModule } from '../demo/demo.module.js';
import { MessagesModule } from '../messages/messages.module.js';
import { OrdersModule } from '../orders/orders.module.js';
import { PlanningModule } from '../planning/planning.module.js';
import { ProductionModule } from '../production/production.module.js';
import { PurchasingModule } from '../purchasing/purchasing.module.js';
import { RemindersModule } from '../reminders/reminders.module.js';
import { ReorderModule } from '../reorder/reorder.module.js';
import { ShippingModule } from '../shipping/shipping.module.js';
import { StockModule } from '../stock/stock.module.js';
import { TraceModule } from '../trace/trace.module.js';
import { AssetsController } from './assets.controller.js';
import { BatchPage } from './batch.js';
import { BenchPage } from './bench.js';
import { BenchSettingsPage } from './bench-settings.js';
import { CountPage } from './count.js';
import { FormulaNewPage } from './formula-new.js';
import { FormulasPage } from './formulas.js';
import { FindPage } from './find.js';
import { LotPage } from './lot.js';
import { OrderImportPage } from './order-import.js';
import { OrderNewPage } from './order-new.js';
import { OrdersPage } from './orders.js';
import { FormOnce } from './parts/form-key.js';
import { PageWorkshop } from './parts/page-workshop.js';
import { PurchaseOrderPage } from './purchase-order.js';
import { PurchaseOrdersPage } from './purchase-orders.js';
import { RemindersPage } from './reminders.js';
import { ReorderPage } from './reorder.js';
import { ShelfPage } from './shelf.js';
import { StartPage } from './start.js';
import { ChecksPage } from './checks.js';
import { EmptiesPage } from './empties.js';
import { FairsPage } from './fairs.js';
import { LabelsPage } from './labels.js';
import { PickPage } from './pick.js';
import { ComparePage } from './compare.js';
import { ComplaintPage } from './complaint.js';
import { RecallLetterPage } from './recall-letter.js';
import { RecallPage } from './recall.js';
import { TracePage } from './trace.js';
import { WeekPage } from './week.js';
import { SuppliersPage } from './suppliers.js';
import { WhyPage } from './why.js';

@Module({
  imports: [
    CatalogModule,
    StockModule,
    OrdersModule,
    PurchasingModule,
    BatchesModule,
    PlanningModule,
    ReorderModule,
    ProductionModule,
    ShippingModule,
    MessagesModule,
    TraceModule,
    RemindersModule,
    DemoModule,
  ],
  controllers: [
    AssetsController,
    WeekPage,
    ComparePage,
    SuppliersPage,
    WhyPage,
    OrdersPage,
    OrderNewPage,
    OrderImportPage,
    BenchPage,
    BenchSettingsPage,
    BatchPage,
    ChecksPage,
    PickPage,
    FairsPage,
    EmptiesPage,
    LabelsPage,
    FindPage,
    StartPage,
    ShelfPage,
    CountPage,
    FormulaNewPage,
    FormulasPage,
    LotPage,
    ReorderPage,
    ComplaintPage,
    RecallLetterPage,
    RecallPage,
    TracePage,
    RemindersPage,
    PurchaseOrdersPage,
    PurchaseOrderPage,
  ],
  providers: [
    { provide: APP_INTERCEPTOR, useClass: PageWorkshop },
    { provide: APP_INTERCEPTOR, useClass: FormOnce },
  ],
})
export class PagesModule {}
