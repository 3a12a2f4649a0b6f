import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { BenchRulesService } from './bench-rules.service.js';
import { ChecksController } from './checks.controller.js';
import { ChecksService } from './checks.service.js';
import { PhotoStore } from './photo-store.js';
import { SamplesController } from './samples.controller.js';
import { SamplesService } from './samples.service.js';

@Module({
  imports: [StockModule],
  controllers: [ChecksController, SamplesController],
  providers: [BenchRulesService, ChecksService, PhotoStore, SamplesService],
  exports: [BenchRulesService, ChecksService, PhotoStore, SamplesService],
})
export class ChecksModule {}
