import { Injectable, Logger } from '@nestjs/common';
import type { OnModuleInit } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { EmailChannel } from './email.channel.js';
import { settingOf } from './notice-settings.service.js';
import { OFFERS_MAX } from './outbox.service.js';
import type { Channel, Letter } from './outbox.service.js';
import { QueueService } from './queue.service.js';
import { WebhookChannel } from './webhook.channel.js';
import type { Notice, Outgoing } from './outgoing.js';

/** Longer than any channel takes: after that the one who had it is taken for dead. */
const LEASE_SECONDS = 60;
/** Between two offers of a message that does not go: doubled each time, up to six hours. */
const AGAIN_SECONDS = 60;
const AGAIN_SECONDS_MAX = 6 * 3600;

interface Taken extends Outgoing {
  channel: Channel;
  offers: number;
}

/**
 * Sends what was handed over. A message may be sent twice, if a worker dies between sending it and saying so, but always
 * under one id; it is never lost, since only a sent one is done.
 */
@Injectable()
export class SendService implements OnModuleInit {
  private readonly logger = new Logger('send');

  constructor(
    private readonly database: Database,
    private readonly queue: QueueService,
    private readonly email: EmailChannel,
    private readonly webhook: WebhookChannel,
  ) {}

  onModuleInit(): void {
    this.queue.handle('send', ({ message }, { isLastTry }) => this.send(message, isLastTry));
  }

  /** Answers what came of it. Throws what went wrong, so that the queue tries again. */
  private async send(message: string, isLastTry: boolean): Promise<string> {
    const taken = await this.take(message);
    if (typeof taken === 'string') return taken;
    try {
      const remark = taken.channel === 'email' ? await this.email.send(taken) : await this.webhook.send(taken);
      await this.done(message, remark);
      return 'sent';
    } catch (error) {
      await this.failed(message, taken.offers, error as Error, isLastTry);
      throw error;
    }
  }

  /**
   * Takes a message for this worker alone, or says why there is nothing to send. Where another has it, it is left to him;
   * should he be dead, the outbox offers it again when his time is over.
   */
  private async take(message: string): Promise<Taken | string> {
    return this.database.act({ who: 'outbox' }, async (tx) => {
      const [rows] = await tx.query<
        [{ id: number; channel: Channel; offers: number; letter: Letter | null }[], number]
      >(
        `update message set sending_until = now() + make_interval(secs => ${LEASE_SECONDS}), tries = tries + 1
         where uuid = $1 and status in ('waiting', 'handed') and (sending_until is null or sending_until < now())
         returning id, channel, offers, letter`,
        [message],
      );
      const row = rows[0];
      if (!row) return whyNot(tx, message);
      const notices = row.letter ? [] : await tx.query<Notice[]>(NOTICES, [row.id]);
      if (!row.letter && notices.length === 0) {
        await tx.query(`update message set status = 'dropped', sending_until = null where id = $1`, [row.id]);
        return 'nothing left to say';
      }
      const files = row.letter ? await tx.query<NonNullable<Letter['files']>>(FILES, [row.id]) : undefined;
      const letter = row.letter ? { ...row.letter, files } : null;
      const setting = await settingOf(tx);
      const [named] = await tx.query<{ name: string }[]>(`select name from workshop`);
      return { ...row, id: message, letter, notices, setting, workshop: named?.name ?? 'Workshop' };
    });
  }

  private done(message: string, remark: string): Promise<void> {
    return this.database.act({ who: 'outbox' }, async (tx) => {
      await tx.query(
        `update message set status = 'sent', sent_at = now(), sending_until = null, last_error = $2
         where uuid = $1 and status <> 'sent'`,
        [message, remark.slice(0, 500)],
      );
    });
  }

  /** The queue tries again soon; after its last try the outbox waits longer, and offers it anew. */
  private failed(message: string, offers: number, error: Error, isLastTry: boolean): Promise<void> {
    const again = Math.min(AGAIN_SECONDS_MAX, AGAIN_SECONDS * 2 ** Math.min(offers, 20));
    this.logger.debug(`${message}: ${error.message}`);
    return this.database.act({ who: 'outbox' }, async (tx) => {
      await tx.query(
        `update message set sending_until = null, last_error = $2,
           status = case when not $3 then status when offers >= ${OFFERS_MAX} then 'given-up' else 'waiting' end,
           due_at = case when $3 then now() + make_interval(secs => $4) else due_at end
         where uuid = $1 and status <> 'sent'`,
        [message, error.message.slice(0, 500), isLastTry, again],
      );
    });
  }
}

async function whyNot(tx: EntityManager, message: string): Promise<string> {
  const rows = await tx.query<{ status: string }[]>('select status from message where uuid = $1', [message]);
  const status = rows[0]?.status ?? 'gone';
  return status === 'waiting' || status === 'handed' ? 'another worker is sending it' : `already ${status}`;
}

/** Those of its reminders that still hold; the address of the workshop's pages is what its labels link to. */
const NOTICES = `
  select r.id, r.kind, r.title, r.detail, r.due_on as "dueOn",
    case when r.link = '' then '' else rtrim(coalesce((select address from bench_rules), ''), '/') || r.link end as link
  from message_reminder mr join reminder r on r.id = mr.reminder_id
  where mr.message_id = $1 and r.status = 'open' and not exists (select from muted_kind k where k.kind = r.kind)
  order by r.due_on, r.id`;

const FILES = 'select name, type, content from message_file where message_id = $1 order by position';
