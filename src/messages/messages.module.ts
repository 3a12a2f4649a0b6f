import { Module } from '@nestjs/common';
import { EmailChannel } from './email.channel.js';
import { JobsController } from './jobs.controller.js';
import { JobsService } from './jobs.service.js';
import { NoticeSettingsService } from './notice-settings.service.js';
import { OutboxService } from './outbox.service.js';
import { QueueService } from './queue.service.js';
import { RelayService } from './relay.service.js';
import { RemindersController } from './reminders.controller.js';
import { RemindersService } from './reminders.service.js';
import { SendService } from './send.service.js';
import { WebhookChannel } from './webhook.channel.js';

@Module({
  controllers: [RemindersController, JobsController],
  providers: [
    QueueService,
    OutboxService,
    RelayService,
    SendService,
    EmailChannel,
    WebhookChannel,
    RemindersService,
    NoticeSettingsService,
    JobsService,
  ],
  exports: [QueueService, OutboxService, RelayService, RemindersService, NoticeSettingsService, JobsService],
})
export class MessagesModule {}
