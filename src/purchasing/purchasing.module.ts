import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { StockModule } from '../stock/stock.module.js';
import { DeliveriesService } from './deliveries.service.js';
import { PurchasingController } from './purchasing.controller.js';
import { ReceivingService } from './receiving.service.js';
import { SuppliersService } from './suppliers.service.js';
import { Delivery, DeliveryLine, Pack, Supplier } from './purchasing.entity.js';

@Module({
  imports: [TypeOrmModule.forFeature([Supplier, Pack, Delivery, DeliveryLine]), StockModule],
  controllers: [PurchasingController],
  providers: [SuppliersService, DeliveriesService, ReceivingService],
  exports: [SuppliersService, DeliveriesService, ReceivingService],
})
export class PurchasingModule {}
