import { Module } from '@nestjs/common';
import type { DynamicModule } from '@nestjs/common';
import { BatchesModule } from './batches/batches.module.js';
import { BenchModule } from './bench/bench.module.js';
import { CatalogModule } from './catalog/catalog.module.js';
import { ChecksModule } from './checks/checks.module.js';
import type { Config } from './config.js';
import { DemoModule } from './demo/demo.module.js';
import { LabelsModule } from './labels/labels.module.js';
import { MessagesModule } from './messages/messages.module.js';
import { OrdersModule } from './orders/orders.module.js';
import { PlatformModule } from './platform/platform.module.js';
import { PeopleModule } from './people/people.module.js';
import { PagesModule } from './pages/pages.module.js';
import { PlanningModule } from './planning/planning.module.js';
import { PurchasingModule } from './purchasing/purchasing.module.js';
import { RemindersModule } from './reminders/reminders.module.js';
import { ReorderModule } from './reorder/reorder.module.js';
import { ShippingModule } from './shipping/shipping.module.js';
import { StockModule } from './stock/stock.module.js';
import { TraceModule } from './trace/trace.module.js';

/** Which rooms are open. What the API is described by comes in this order, and keeps it. */
const ROOMS: (new () => unknown)[] = [
  MessagesModule,
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
  TraceModule,
  RemindersModule,
  DemoModule,
  PagesModule,
];

@Module({})
export class AppModule {
  /**
   * `databaseUrl` connects as the role the application serves as. The platform comes first: modules are shut down in
   * the opposite order, so the database outlives everything that may still use it.
   */
  static with(config: Config, databaseUrl: string): DynamicModule {
    return { module: AppModule, imports: [PlatformModule.with(config, databaseUrl), ...ROOMS] };
  }
}
