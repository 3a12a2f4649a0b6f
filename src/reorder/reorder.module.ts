import { Module } from '@nestjs/common';
import { PlanningModule } from '../planning/planning.module.js';
import { PurchasingModule } from '../purchasing/purchasing.module.js';
import { ReorderController } from './reorder.controller.js';
import { ReorderService } from './reorder.service.js';
import { ReorderSettingsService } from './settings.service.js';

@Module({
  imports: [PlanningModule, PurchasingModule],
  controllers: [ReorderController],
  providers: [ReorderService, ReorderSettingsService],
  exports: [ReorderService, ReorderSettingsService],
})
export class ReorderModule {}
