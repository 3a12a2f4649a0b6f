import { Module } from '@nestjs/common';
import { BenchModule } from '../bench/bench.module.js';
import { StockModule } from '../stock/stock.module.js';
import { FairsController } from './fairs.controller.js';
import { FairsService } from './fairs.service.js';
import { PickService } from './pick.service.js';
import { ReturnsService } from './returns.service.js';
import { ShipmentsService } from './shipments.service.js';
import { ShippingController } from './shipping.controller.js';
import { SlipService } from './slip.service.js';

@Module({
  imports: [StockModule, BenchModule],
  controllers: [ShippingController, FairsController],
  providers: [FairsService, PickService, ReturnsService, ShipmentsService, SlipService],
  exports: [FairsService, PickService, ReturnsService, ShipmentsService, SlipService],
})
export class ShippingModule {}
