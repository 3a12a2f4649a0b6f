import { Module } from '@nestjs/common';
import { MessagesModule } from '../messages/messages.module.js';
import { PlanningModule } from '../planning/planning.module.js';
import { ReorderModule } from '../reorder/reorder.module.js';
import { CalendarService } from './calendar.service.js';
import { SweepController } from './reminders.controller.js';
import { SweepService } from './sweep.service.js';

@Module({
  imports: [MessagesModule, PlanningModule, ReorderModule],
  controllers: [SweepController],
  providers: [SweepService, CalendarService],
  exports: [SweepService],
})
export class RemindersModule {}
