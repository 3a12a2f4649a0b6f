import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { ReturnsService } from './returns.service.js';
import { ShipmentsService } from './shipments.service.js';
import { ShippingController } from './shipping.controller.js';

@Module({
  imports: [StockModule],
  controllers: [ShippingController],
  providers: [ReturnsService, ShipmentsService],
  exports: [ShipmentsService],
})
export class ShippingModule {}
