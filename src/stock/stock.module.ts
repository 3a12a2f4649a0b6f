import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { LotsService } from './lots.service.js';
import { StockController } from './stock.controller.js';
import { StockService } from './stock.service.js';
import { Lot, Movement } from './stock.entity.js';

@Module({
  imports: [TypeOrmModule.forFeature([Lot, Movement])],
  controllers: [StockController],
  providers: [LotsService, StockService],
  exports: [LotsService, StockService],
})
export class StockModule {}
