import { createHash, randomBytes } from 'node:crypto';
import { Inject, Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { addressFor, UnreachableAddress } from './public-address.js';
import type { MutedView, NoticeSettings, NoticeSettingsPut, ReminderKind } from './messages.schema.js';

/** A row of `notice_setting`; what the columns default to where there is none. */
export interface SettingRow {
  email_to: string[];
  email_digest: boolean;
  webhook_url: string;
  webhook_secret: string;
  webhook_digest: boolean;
  digest_at: string;
  quiet_from: string | null;
  quiet_to: string | null;
  count_days: number;
  limit_months: number;
  calendar_hash: string | null;
  calendar_since: Date | null;
}

const DEFAULTS: SettingRow = {
  email_to: [],
  email_digest: true,
  webhook_url: '',
  webhook_secret: '',
  webhook_digest: false,
  digest_at: '07:00:00',
  quiet_from: null,
  quiet_to: null,
  count_days: 120,
  limit_months: 24,
  calendar_hash: null,
  calendar_since: null,
};

/** Bytes of chance in a secret: 256 bit, which nobody guesses. */
const SECRET_BYTES = 32;

/** How notices leave, and which are not wanted. */
@Injectable()
export class NoticeSettingsService {
  constructor(
    private readonly database: Database,
    @Inject(CONFIG) private readonly config: Config,
  ) {}

  get(): Promise<NoticeSettings> {
    return this.database.read(async (tx) => this.viewOf(await settingOf(tx)));
  }

  /**
   * Sets all of them. With the first address of a webhook its secret is made; `newWebhookSecret` tells it. Throws 422 for an
   * address nothing may be sent to.
   */
  async put(who: string, body: NoticeSettingsPut): Promise<NoticeSettings> {
    if (body.webhookUrl !== '') await this.refuseUnsendable(body.webhookUrl);
    return this.database.act({ who }, async (tx) => {
      const before = await settingOf(tx);
      const secret = body.webhookUrl === '' ? '' : before.webhook_secret || newWebhookSecret();
      await tx.query(
        `insert into notice_setting (id, email_to, email_digest, webhook_url, webhook_secret, webhook_digest, digest_at,
           quiet_from, quiet_to, count_days, limit_months) values (1, $1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
         on conflict (id) do update set email_to = excluded.email_to, email_digest = excluded.email_digest,
           webhook_url = excluded.webhook_url, webhook_secret = excluded.webhook_secret,
           webhook_digest = excluded.webhook_digest, digest_at = excluded.digest_at, quiet_from = excluded.quiet_from,
           quiet_to = excluded.quiet_to, count_days = excluded.count_days, limit_months = excluded.limit_months,
           updated_by = acting_person(), updated_at = now()`,
        [
          body.emailTo,
          body.emailDigest,
          body.webhookUrl,
          secret,
          body.webhookDigest,
          body.digestAt,
          body.quietFrom,
          body.quietTo,
          body.countDays,
          body.limitMonths,
        ],
      );
      return this.viewOf(await settingOf(tx));
    });
  }

  /** A new secret for the webhook, told once; what is sent from now on is signed with it. Throws 409 without a webhook. */
  newWebhookSecret(who: string): Promise<{ secret: string }> {
    return this.database.act({ who }, async (tx) => {
      const secret = newWebhookSecret();
      const rows = await changed(
        tx,
        `update notice_setting set webhook_secret = $1, updated_by = acting_person(), updated_at = now()
         where webhook_url <> '' returning id`,
        [secret],
      );
      if (rows === 0) throw conflict('no-webhook', 'Say first where notices are posted to.');
      return { secret };
    });
  }

  /** A new secret address for the calendar, told once; one there was before is no longer answered. */
  newCalendar(who: string): Promise<{ path: string }> {
    return this.database.act({ who }, async (tx) => {
      const token = randomBytes(SECRET_BYTES).toString('base64url');
      await tx.query(
        `insert into notice_setting (id, calendar_hash, calendar_since) values (1, $1, now())
         on conflict (id) do update set calendar_hash = excluded.calendar_hash,
           calendar_since = excluded.calendar_since, updated_by = acting_person(), updated_at = now()`,
        [hashOf(token)],
      );
      return { path: `/calendar/${token}.ics` };
    });
  }

  /** From now on nobody is answered at the calendar's address. */
  endCalendar(who: string): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      await tx.query(
        `update notice_setting set calendar_hash = null, calendar_since = null, updated_by = acting_person(),
           updated_at = now() where calendar_hash is not null`,
      );
    });
  }

  /** Throws 404 where this is not the secret, without telling whether there is a calendar at all. */
  async admitToCalendar(token: string): Promise<void> {
    const setting = await this.database.read(settingOf);
    // of two hashes, how far they agree tells nothing about the secret
    if (setting.calendar_hash === null || setting.calendar_hash !== hashOf(token)) throw notFound('calendar', 'this');
  }

  muted(): Promise<MutedView> {
    return this.database.read(mutedOf);
  }

  mute(who: string, kind: ReminderKind): Promise<MutedView> {
    return this.database.act({ who }, async (tx) => {
      await tx.query('insert into muted_kind (kind) values ($1) on conflict do nothing', [kind]);
      return mutedOf(tx);
    });
  }

  unmute(who: string, kind: ReminderKind): Promise<MutedView> {
    return this.database.act({ who }, async (tx) => {
      await tx.query('delete from muted_kind where kind = $1', [kind]);
      return mutedOf(tx);
    });
  }

  /** What would be refused at each try is refused at once; a name that nobody knows just now may be known later. */
  private async refuseUnsendable(url: string): Promise<void> {
    try {
      await addressFor(new URL(url).hostname, this.config.webhookAllow);
    } catch (error) {
      if (error instanceof UnreachableAddress) throw invalid('/webhookUrl', error.message);
    }
  }

  private viewOf(row: SettingRow): NoticeSettings {
    return {
      emailTo: row.email_to,
      emailDigest: row.email_digest,
      emailServer: this.config.smtp === undefined ? null : new URL(this.config.smtp.url).host,
      webhookUrl: row.webhook_url,
      webhookDigest: row.webhook_digest,
      digestAt: row.digest_at.slice(0, 5),
      quietFrom: row.quiet_from?.slice(0, 5) ?? null,
      quietTo: row.quiet_to?.slice(0, 5) ?? null,
      countDays: row.count_days,
      limitMonths: row.limit_months,
      calendarSince: row.calendar_since?.toISOString() ?? null,
    };
  }
}

export async function settingOf(tx: EntityManager): Promise<SettingRow> {
  const rows = await tx.query<SettingRow[]>(
    `select email_to, email_digest, webhook_url, webhook_secret, webhook_digest, digest_at, quiet_from, quiet_to, count_days,
       limit_months, calendar_hash, calendar_since from notice_setting`,
  );
  return rows[0] ?? DEFAULTS;
}

async function mutedOf(tx: EntityManager): Promise<MutedView> {
  const rows = await tx.query<{ kind: ReminderKind }[]>('select kind from muted_kind order by kind');
  return { muted: rows.map(({ kind }) => kind) };
}

/** How many rows an UPDATE with RETURNING changed: the library answers the rows and their number. */
export async function changed(tx: EntityManager, sql: string, values: unknown[]): Promise<number> {
  const [, count] = await tx.query<[unknown[], number]>(sql, values);
  return count;
}

const newWebhookSecret = (): string => `whsec_${randomBytes(SECRET_BYTES).toString('base64')}`;
const hashOf = (token: string): string => createHash('sha256').update(token).digest('hex');
