import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { DemoService } from './demo.service.js';

@Module({ imports: [StockModule], providers: [DemoService], exports: [DemoService] })
export class DemoModule {}
