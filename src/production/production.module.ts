import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { BenchService } from './bench.service.js';
import { ProductionController } from './production.controller.js';
import { WeighingService } from './weighing.service.js';

@Module({
  imports: [StockModule],
  controllers: [ProductionController],
  providers: [BenchService, WeighingService],
  exports: [BenchService],
})
export class ProductionModule {}
