import { Module } from '@nestjs/common';
import { PlanningModule } from '../planning/planning.module.js';
import { PurchasingModule } from '../purchasing/purchasing.module.js';
import { ReorderController } from './reorder.controller.js';
import { ReorderService } from './reorder.service.js';
import { SaidUseService } from './said-use.service.js';
import { ReorderSettingsService } from './settings.service.js';

@Module({
  imports: [PlanningModule, PurchasingModule],
  controllers: [ReorderController],
  providers: [ReorderService, ReorderSettingsService, SaidUseService],
  exports: [ReorderService, ReorderSettingsService, SaidUseService],
})
export class ReorderModule {}
