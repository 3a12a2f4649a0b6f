import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { MessagesModule } from '../messages/messages.module.js';
import { StockModule } from '../stock/stock.module.js';
import { CostsService } from './costs.service.js';
import { ConfirmingService } from './confirming.service.js';
import { DeliveriesService } from './deliveries.service.js';
import { PurchaseOrdersController } from './purchase-orders.controller.js';
import { PurchaseOrdersService } from './purchase-orders.service.js';
import { PurchaseLetterService } from './purchase-letter.service.js';
import { PurchasePaperService } from './purchase-paper.service.js';
import { PurchasingController } from './purchasing.controller.js';
import { ReceivingService } from './receiving.service.js';
import { SuppliersService } from './suppliers.service.js';
import { Delivery, DeliveryLine, Pack, Supplier } from './purchasing.entity.js';

@Module({
  imports: [TypeOrmModule.forFeature([Supplier, Pack, Delivery, DeliveryLine]), MessagesModule, StockModule],
  controllers: [PurchasingController, PurchaseOrdersController],
  providers: [
    SuppliersService,
    DeliveriesService,
    ReceivingService,
    PurchaseOrdersService,
    ConfirmingService,
    PurchasePaperService,
    PurchaseLetterService,
    CostsService,
  ],
  exports: [
    SuppliersService,
    DeliveriesService,
    ReceivingService,
    PurchaseOrdersService,
    ConfirmingService,
    PurchasePaperService,
    PurchaseLetterService,
    CostsService,
  ],
})
export class PurchasingModule {}
