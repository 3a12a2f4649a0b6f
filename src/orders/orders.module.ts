import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { ChannelsController } from './channels.controller.js';
import { ChannelsService } from './channels.service.js';
import { ImportService } from './import.service.js';
import { OrderFilesService } from './order-files.service.js';
import { OrdersController } from './orders.controller.js';
import { Channel, Customer, CustomerOrder, OrderLine } from './orders.entity.js';
import { OrdersService } from './orders.service.js';

@Module({
  imports: [TypeOrmModule.forFeature([Channel, Customer, CustomerOrder, OrderLine])],
  controllers: [OrdersController, ChannelsController],
  providers: [OrdersService, ChannelsService, ImportService, OrderFilesService],
  exports: [OrdersService, ChannelsService, ImportService, OrderFilesService],
})
export class OrdersModule {}
