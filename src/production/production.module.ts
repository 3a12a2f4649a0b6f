import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { BenchRulesService } from './bench-rules.service.js';
import { BenchService } from './bench.service.js';
import { ChecksController } from './checks.controller.js';
import { ChecksService } from './checks.service.js';
import { PhotoStore } from './photo-store.js';
import { ProductionController } from './production.controller.js';
import { WeighingService } from './weighing.service.js';

@Module({
  imports: [StockModule],
  controllers: [ProductionController, ChecksController],
  providers: [BenchRulesService, BenchService, ChecksService, PhotoStore, WeighingService],
  exports: [BenchRulesService, BenchService, ChecksService],
})
export class ProductionModule {}
