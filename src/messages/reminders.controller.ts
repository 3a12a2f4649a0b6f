import { Body, Controller, Delete, Get, HttpCode, Param, Post, Put, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { z } from 'zod';
import { Who } from '../platform/person.js';
import { idParam } from '../platform/schema.js';
import type { NoticeSettingsPut, ReminderQuery } from './messages.schema.js';
import {
  calendarAddress,
  kindPath,
  mutedView,
  noticeSettings,
  noticeSettingsPut,
  reminderCounts,
  reminderPage,
  reminderQuery,
  reminderView,
  snoozeBody,
  webhookSecret,
} from './messages.schema.js';
import { NoticeSettingsService } from './notice-settings.service.js';
import { RemindersService } from './reminders.service.js';

@ApiTags('reminders')
@Controller('api/reminders')
export class RemindersController {
  constructor(
    private readonly reminders: RemindersService,
    private readonly settings: NoticeSettingsService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'What there is to be told, what matters most first' })
  @ApiOkResponse({ standardSchema: reminderPage })
  list(@Query({ schema: reminderQuery }) query: ReminderQuery) {
    return this.reminders.list(query);
  }

  @Get('counts')
  @ApiOperation({ summary: 'How many there are' })
  @ApiOkResponse({ standardSchema: reminderCounts })
  counts() {
    return this.reminders.counts();
  }

  @Get('settings')
  @ApiOperation({ summary: 'How they are sent' })
  @ApiOkResponse({ standardSchema: noticeSettings })
  getSettings() {
    return this.settings.get();
  }

  @Put('settings')
  @ApiOperation({ summary: 'Set all of that' })
  @ApiOkResponse({ standardSchema: noticeSettings })
  putSettings(@Who() who: string, @Body({ schema: noticeSettingsPut }) body: NoticeSettingsPut) {
    return this.settings.put(who, body);
  }

  @Post('settings/webhook-secret')
  @ApiOperation({ summary: 'A new secret that posts are signed with' })
  @ApiCreatedResponse({ standardSchema: webhookSecret })
  newWebhookSecret(@Who() who: string) {
    return this.settings.newWebhookSecret(who);
  }

  @Post('calendar')
  @ApiOperation({ summary: 'A new secret address of the calendar; the one before ends' })
  @ApiCreatedResponse({ standardSchema: calendarAddress })
  newCalendar(@Who() who: string) {
    return this.settings.newCalendar(who);
  }

  @Delete('calendar')
  @HttpCode(204)
  @ApiOperation({ summary: 'No calendar any more' })
  @ApiNoContentResponse()
  endCalendar(@Who() who: string): Promise<void> {
    return this.settings.endCalendar(who);
  }

  @Get('settings/muted')
  @ApiOperation({ summary: 'Kinds that are listed but not sent' })
  @ApiOkResponse({ standardSchema: mutedView })
  muted() {
    return this.settings.muted();
  }

  @Put('settings/muted/:kind')
  @ApiOperation({ summary: 'Send none of this kind' })
  @ApiOkResponse({ standardSchema: mutedView })
  mute(@Who() who: string, @Param({ schema: kindPath }) { kind }: z.infer<typeof kindPath>) {
    return this.settings.mute(who, kind);
  }

  @Delete('settings/muted/:kind')
  @ApiOperation({ summary: 'Send them again' })
  @ApiOkResponse({ standardSchema: mutedView })
  unmute(@Who() who: string, @Param({ schema: kindPath }) { kind }: z.infer<typeof kindPath>) {
    return this.settings.unmute(who, kind);
  }

  @Post(':id/snooze')
  @HttpCode(200)
  @ApiOperation({ summary: 'Put it off until a day' })
  @ApiOkResponse({ standardSchema: reminderView })
  snooze(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: snoozeBody }) { until }: z.infer<typeof snoozeBody>,
  ) {
    return this.reminders.snooze(who, id, until);
  }

  @Post(':id/acknowledge')
  @HttpCode(200)
  @ApiOperation({ summary: 'Say that it is dealt with' })
  @ApiOkResponse({ standardSchema: reminderView })
  acknowledge(@Who() who: string, @Param('id', { schema: idParam }) id: number) {
    return this.reminders.acknowledge(who, id);
  }

  @Post(':id/reopen')
  @HttpCode(200)
  @ApiOperation({ summary: 'Take that back' })
  @ApiOkResponse({ standardSchema: reminderView })
  reopen(@Who() who: string, @Param('id', { schema: idParam }) id: number) {
    return this.reminders.reopen(who, id);
  }
}
