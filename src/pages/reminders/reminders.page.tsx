import { Body, Get, Post, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { addDays } from '../../kernel/measure/day.js';
import { JobsService } from '../../messages/jobs.service.js';
import { messagePath } from '../../messages/jobs.schema.js';
import { kindPath, noticeSettingsPut, REMINDER_STATES, snoozeBody } from '../../messages/messages.schema.js';
import { NoticeSettingsService } from '../../messages/notice-settings.service.js';
import { OutboxService } from '../../messages/outbox.service.js';
import { QueueService } from '../../messages/queue.service.js';
import { RemindersService } from '../../messages/reminders.service.js';
import { Clock } from '../../platform/clock.js';
import { idParam } from '../../platform/schema.js';
import { SweepService } from '../../reminders/sweep.service.js';
import { bodyOf, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { RemindersView } from './reminder-list.js';
import { NoticesView, type NoticesViewProps } from './notice-settings.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const LISTED_MAX = 200;
const listQuery = z.strictObject({
  status: z.enum(REMINDER_STATES).default('open'),
  after: z.coerce.number().int().positive().optional(),
  said: z.enum(['looked']).optional(),
});
const idPath = z.strictObject({ id: idParam });
const jobForm = z.strictObject({ id: z.string().min(1).max(120) });
const saidQuery = z.strictObject({ said: z.enum(['kept', 'again', 'ended']).optional() });

/** What there is to be told, and how it is told. */
@PageController('reminders')
export class RemindersPage {
  constructor(
    private readonly reminders: RemindersService,
    private readonly settings: NoticeSettingsService,
    private readonly jobs: JobsService,
    private readonly queue: QueueService,
    private readonly outbox: OutboxService,
    private readonly sweeps: SweepService,
    private readonly clock: Clock,
  ) {}

  @Get()
  async list(@Query({ schema: listQuery }) { status, after, said }: z.infer<typeof listQuery>) {
    const page = await this.reminders.list({ status, after, limit: LISTED_MAX });
    return (
      <RemindersView page={page} status={status} counts={await this.reminders.counts()} looked={said !== undefined} />
    );
  }

  @Post('look')
  async look(@Filled() { reply }: Filled) {
    await this.sweeps.ask();
    return goTo(reply, '/reminders', { said: 'looked' });
  }

  @Post(':id/acknowledge')
  async acknowledge(@Filled(idPath) { who, path: { id }, reply }: Filled<typeof idPath>) {
    await this.reminders.acknowledge(who, id);
    return goTo(reply, '/reminders');
  }

  @Post(':id/reopen')
  async reopen(@Filled(idPath) { who, path: { id }, reply }: Filled<typeof idPath>) {
    await this.reminders.reopen(who, id);
    return goTo(reply, '/reminders');
  }

  @Post(':id/snooze')
  async snooze(@Filled(idPath) { who, path: { id }, sent, reply }: Filled<typeof idPath>) {
    try {
      const until = written(sent, 'until') ?? addDays(await this.clock.today(), 7);
      await this.reminders.snooze(who, id, bodyOf(snoozeBody, { until }).until);
      return goTo(reply, '/reminders');
    } catch (error) {
      const refused = { id, fault: faultOf(error, reply), until: sent['until'] ?? '' };
      const page = await this.reminders.list({ status: 'open', limit: LISTED_MAX });
      return <RemindersView page={page} status="open" counts={await this.reminders.counts()} refused={refused} />;
    }
  }

  @Post('muted/:kind')
  async mute(@Filled(kindPath) { who, path: { kind }, sent, reply }: Filled<typeof kindPath>) {
    await (sent['mute'] === 'yes' ? this.settings.mute(who, kind) : this.settings.unmute(who, kind));
    return goTo(reply, '/reminders/settings', { said: 'kept' });
  }

  @Get('settings')
  async show(@Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>) {
    return <NoticesView {...await this.shown()} said={said} />;
  }

  @Post('settings')
  async keep(@Filled() { who, sent, reply }: Filled) {
    try {
      await this.settings.put(who, bodyOf(noticeSettingsPut, settingsOf(sent)));
      return goTo(reply, '/reminders/settings', { said: 'kept' });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <NoticesView {...await this.shown()} refused={{ sent, fault }} />;
    }
  }

  @Post('settings/webhook-secret')
  async newSecret(@Filled() { who, reply }: Filled) {
    void reply.status(200).header('cache-control', 'no-store');
    const { secret } = await this.settings.newWebhookSecret(who);
    return <NoticesView {...await this.shown()} told={{ what: 'secret', text: secret }} />;
  }

  @Post('settings/calendar')
  async newCalendar(@Filled() { who, reply }: Filled) {
    void reply.status(200).header('cache-control', 'no-store');
    const { path } = await this.settings.newCalendar(who);
    return <NoticesView {...await this.shown()} told={{ what: 'calendar', text: path }} />;
  }

  @Post('settings/calendar/end')
  async endCalendar(@Filled() { who, reply }: Filled) {
    await this.settings.endCalendar(who);
    return goTo(reply, '/reminders/settings', { said: 'ended' });
  }

  @Post('messages/:message/retry')
  async retryMessage(@Filled(messagePath) { who, path: { message }, reply }: Filled<typeof messagePath>) {
    await this.outbox.retry(who, message);
    return goTo(reply, '/reminders/settings', { said: 'again' });
  }

  @Post('jobs/retry')
  async retryJob(
    @Body({ schema: jobForm }) { id }: z.infer<typeof jobForm>,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    await this.queue.retry(id);
    return goTo(reply, '/reminders/settings', { said: 'again' });
  }

  private async shown(): Promise<Pick<NoticesViewProps, 'settings' | 'muted' | 'jobs'>> {
    const settings = await this.settings.get();
    const { muted } = await this.settings.muted();
    return { settings, muted, jobs: await this.jobs.view() };
  }
}

/** What the form says, in the shape the settings have. */
function settingsOf(sent: Sent): unknown {
  const number = (name: string): number => Number(written(sent, name) ?? '0');
  return {
    emailTo: (sent['emailTo'] ?? '').split(/[\s,;]+/).filter((part) => part !== ''),
    emailDigest: sent['emailDigest'] === 'yes',
    webhookUrl: written(sent, 'webhookUrl') ?? '',
    webhookDigest: sent['webhookDigest'] === 'yes',
    digestAt: written(sent, 'digestAt') ?? '',
    quietFrom: written(sent, 'quietFrom') ?? null,
    quietTo: written(sent, 'quietTo') ?? null,
    countDays: number('countDays'),
    limitMonths: number('limitMonths'),
  };
}
