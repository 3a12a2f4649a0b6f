import { Module } from '@nestjs/common';
import { APP_INTERCEPTOR } from '@nestjs/core';
import { BatchesModule } from '../batches/batches.module.js';
import { BenchModule } from '../bench/bench.module.js';
import { CatalogModule } from '../catalog/catalog.module.js';
import { ChecksModule } from '../checks/checks.module.js';
import { DemoModule } from '../demo/demo.module.js';
import { LabelsModule } from '../labels/labels.module.js';
import { MessagesModule } from '../messages/messages.module.js';
import { OrdersModule } from '../orders/orders.module.js';
import { PeopleModule } from '../people/people.module.js';
import { PlanningModule } from '../planning/planning.module.js';
import { PurchasingModule } from '../purchasing/purchasing.module.js';
import { RemindersModule } from '../reminders/reminders.module.js';
import { ReorderModule } from '../reorder/reorder.module.js';
import { ShippingModule } from '../shipping/shipping.module.js';
import { StockModule } from '../stock/stock.module.js';
import { TraceModule } from '../trace/trace.module.js';
import { AssetsController } from '../ui/assets.controller.js';
import { BatchPage } from './bench/batch.page.js';
import { BenchPage } from './bench/bench.page.js';
import { BenchSettingsPage } from './bench/bench-settings.page.js';
import { CountPage } from './shelf/count.page.js';
import { FormulaNewPage } from './formulas/formula-new.page.js';
import { FormulasPage } from './formulas/formulas.page.js';
import { FindPage } from './find/find.page.js';
import { LotPage } from './shelf/lot.page.js';
import { ChannelsPage } from './orders/channels.page.js';
import { OrderImportPage } from './orders/order-import.page.js';
import { OrderNewPage } from './orders/order-new.page.js';
import { OrdersPage } from './orders/orders.page.js';
import { FormOnce } from '../ui/form-key.js';
import { WorkshopOfPage } from './workshop-of-page.js';
import { PurchaseOrderPage } from './reorder/purchase-order.page.js';
import { PurchaseOrdersPage } from './reorder/purchase-orders.page.js';
import { RemindersPage } from './reminders/reminders.page.js';
import { ReorderPage } from './reorder/reorder.page.js';
import { ShelfPage } from './shelf/shelf.page.js';
import { StartPage } from './start/start.page.js';
import { PeoplePage } from './start/people.page.js';
import { WashingPage } from './start/washing.page.js';
import { ChecksPage } from './bench/checks.page.js';
import { EmptiesPage } from './pack/empties.page.js';
import { FairsPage } from './pack/fairs.page.js';
import { LabelsPage } from './pack/labels.page.js';
import { PickPage } from './pack/pick.page.js';
import { FirstPage } from './week/first.page.js';
import { ComparePage } from './week/compare.page.js';
import { MovePage } from './week/move.page.js';
import { CustomersPage } from './complaints/customers.page.js';
import { ComplaintPage } from './complaints/complaint.page.js';
import { RecallLetterPage } from './complaints/recall-letter.page.js';
import { RecallPage } from './complaints/recall.page.js';
import { TracePage } from './complaints/trace.page.js';
import { WeekPage } from './week/week.page.js';
import { ExpectedUsePage } from './reorder/expected-use.page.js';
import { SuppliersPage } from './reorder/suppliers.page.js';
import { WhyPage } from './why/why.page.js';

@Module({
  imports: [
    CatalogModule,
    PeopleModule,
    StockModule,
    OrdersModule,
    PurchasingModule,
    BatchesModule,
    PlanningModule,
    ReorderModule,
    ChecksModule,
    BenchModule,
    LabelsModule,
    ShippingModule,
    MessagesModule,
    TraceModule,
    RemindersModule,
    DemoModule,
  ],
  controllers: [
    AssetsController,
    FirstPage,
    WeekPage,
    MovePage,
    ComparePage,
    ExpectedUsePage,
    SuppliersPage,
    WhyPage,
    OrdersPage,
    ChannelsPage,
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
    WashingPage,
    PeoplePage,
    ShelfPage,
    CountPage,
    FormulaNewPage,
    FormulasPage,
    LotPage,
    ReorderPage,
    ComplaintPage,
    CustomersPage,
    RecallLetterPage,
    RecallPage,
    TracePage,
    RemindersPage,
    PurchaseOrdersPage,
    PurchaseOrderPage,
  ],
  providers: [
    { provide: APP_INTERCEPTOR, useClass: WorkshopOfPage },
    { provide: APP_INTERCEPTOR, useClass: FormOnce },
  ],
})
export class PagesModule {}
