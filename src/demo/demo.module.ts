import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { BeginningService } from './beginning.service.js';
import { DemoService } from './demo.service.js';

@Module({
  imports: [StockModule],
  providers: [DemoService, BeginningService],
  exports: [DemoService, BeginningService],
})
export class DemoModule {}
