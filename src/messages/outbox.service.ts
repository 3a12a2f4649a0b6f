import { Inject, Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import type { FailingMessage, OutboxState } from './jobs.schema.js';
import { changed, settingOf } from './notice-settings.service.js';
import type { SettingRow } from './notice-settings.service.js';

/** An email that is no notice: to a supplier, say. */
export interface Letter {
  to: string[];
  subject: string;
  text: string;
  replyTo?: string;
  /** The id of the customer it goes to: erased with them. */
  customer?: number;
  files?: { name: string; type: string; content: Buffer }[];
}

export type Channel = 'email' | 'webhook';

/** A message that was handed over, as a job names it. */
export interface Handed {
  message: string;
  offers: number;
}

/** What was handed over and not sent after so long is offered again: its job is lost, or its worker is. */
const HANDED_SECONDS_MAX = 300;
/** Whoever had it and let the time run out that he had for sending it is dead. */
const LEASE_OVER_SECONDS = 15;
/** How many are handed over at once. */
const CLAIM_MAX = 500;
/** After so many offers, the last of them six hours apart, a person has to look. */
export const OFFERS_MAX = 40;

/** What is to be handed over, as a condition on `message`. */
export const DUE = `((status = 'waiting' and due_at <= now())
  or (status = 'handed' and (handed_at < now() - make_interval(secs => ${HANDED_SECONDS_MAX})
    or sending_until < now() - make_interval(secs => ${LEASE_OVER_SECONDS}))))`;

/** The messages to be sent: which are due, handed to a worker, sent. The rows here are the truth, not the queue. */
@Injectable()
export class OutboxService {
  constructor(
    private readonly database: Database,
    @Inject(CONFIG) private readonly config: Config,
  ) {}

  /** Writes an email in the transaction of the act it belongs to; it leaves once that is done. Answers its message id. */
  async write(tx: EntityManager, letter: Letter): Promise<string> {
    const { files = [], customer, ...said } = letter;
    const [row] = await tx.query<{ id: number; uuid: string }[]>(
      `insert into message (channel, letter, customer_id, due_at) values ('email', $1, $2, now()) returning id, uuid`,
      [JSON.stringify(said), customer ?? null],
    );
    for (const [index, { name, type, content }] of files.entries())
      await tx.query(
        'insert into message_file (message_id, position, name, type, content) values ($1, $2, $3, $4, $5)',
        [row!.id, index + 1, name, type, content],
      );
    return row!.uuid;
  }

  /** Takes back what has not left, so that it never does: false where it left, null where it is leaving right now. */
  async withdraw(tx: EntityManager, id: number): Promise<boolean | null> {
    const taken = await changed(
      tx,
      `update message set status = 'dropped' where id = $1 and status in ('waiting', 'handed', 'given-up')
         and (sending_until is null or sending_until < now()) returning id`,
      [id],
    );
    if (taken > 0) return true;
    const [row] = await tx.query<{ status: string }[]>('select status from message where id = $1', [id]);
    return row?.status === 'handed' || row?.status === 'waiting' ? null : false;
  }

  /** Writes what tells of these reminders, on every channel there is, in the transaction that made them. */
  async tell(tx: EntityManager, reminders: readonly number[]): Promise<void> {
    if (reminders.length === 0) return;
    const setting = await settingOf(tx);
    for (const channel of this.channelsOf(setting)) {
      if (channel === 'email' ? setting.email_digest : setting.webhook_digest)
        await tellInDigest(tx, channel, setting, reminders);
      else await tellEach(tx, channel, setting, reminders);
    }
  }

  /** Of those that are due, some; each is answered to one who asks, and again only when its time to be sent is over. */
  claim(): Promise<Handed[]> {
    return this.database.act({ who: 'outbox' }, async (tx) => {
      const [rows] = await tx.query<[Handed[], number]>(
        `update message m set status = 'handed', handed_at = now(), offers = offers + 1
         from (select id from message
           where ${DUE}
           order by due_at, id for update skip locked limit ${CLAIM_MAX}) due
         where m.id = due.id returning m.uuid as message, m.offers`,
      );
      return rows;
    });
  }

  /** Takes a claim back, where the queue did not take the jobs. */
  giveBack(claimed: readonly Handed[]): Promise<void> {
    return this.database.act({ who: 'outbox' }, async (tx) => {
      await tx.query(`update message set status = 'waiting' where status = 'handed' and uuid = any($1)`, [
        claimed.map(({ message }) => message),
      ]);
    });
  }

  /** Has one that waits for its next try, or was given up, tried at once. Throws 404. */
  retry(who: string, message: string): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const count = await changed(
        tx,
        `update message set status = 'waiting', due_at = now(), offers = 0
         where uuid = $1 and status in ('waiting', 'given-up') returning id`,
        [message],
      );
      if (count === 0) throw notFound('message that waits', message);
    });
  }

  async state(): Promise<OutboxState> {
    return this.database.read(async (tx) => {
      const [row] = await tx.query<[OutboxState]>(
        `select count(*) filter (where status = 'waiting') as waiting, count(*) filter (where status = 'handed') as handed,
           count(*) filter (where status = 'sent') as sent, count(*) filter (where status = 'dropped') as dropped,
           count(*) filter (where status = 'given-up') as "givenUp",
           extract(epoch from now() - min(due_at) filter (where status in ('waiting', 'handed') and due_at <= now()))::int
             as "oldestDueSeconds"
         from message`,
      );
      return row;
    });
  }

  /** Those that could not be sent at the last try, the oldest first. */
  failing(limit: number): Promise<FailingMessage[]> {
    return this.database.read((tx) =>
      tx.query<FailingMessage[]>(
        `select m.uuid as message, m.channel, m.status, m.tries, m.last_error as error,
           case when m.status = 'waiting' then to_char(m.due_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"') end
             as "nextTry",
           coalesce(m.letter ->> 'subject', (select min(r.title) || case when count(*) > 1
               then ' and ' || count(*) - 1 || ' more' else '' end
             from message_reminder mr join reminder r on r.id = mr.reminder_id where mr.message_id = m.id), '') as about
         from message m where m.status = 'given-up' or (m.last_error <> '' and m.status in ('waiting', 'handed'))
         order by m.id limit $1`,
        [limit],
      ),
    );
  }

  private channelsOf(setting: SettingRow): Channel[] {
    const channels: Channel[] = [];
    if (this.config.smtp !== undefined && setting.email_to.length > 0) channels.push('email');
    if (setting.webhook_url !== '') channels.push('webhook');
    return channels;
  }
}

const ZONE = `coalesce((select time_zone from workshop), 'UTC')`;

/** One message for each reminder, when the quiet hours are over. */
async function tellEach(
  tx: EntityManager,
  channel: Channel,
  setting: SettingRow,
  reminders: readonly number[],
): Promise<void> {
  const told = await tx.query<{ id: number; round: number }[]>(UNTOLD, [reminders, channel]);
  if (told.length === 0) return;
  const made = await tx.query<{ id: number }[]>(
    `insert into message (channel, due_at)
     select $1, notice_time(now(), ${ZONE}, $2, $3, null) from generate_series(1, $4::int) returning id`,
    [channel, setting.quiet_from, setting.quiet_to, told.length],
  );
  await tx.query(
    `insert into message_reminder (reminder_id, channel, round, message_id)
     select r, $1, n, m from unnest($2::bigint[], $3::int[], $4::bigint[]) as t (r, n, m)`,
    [channel, told.map(({ id }) => id), told.map(({ round }) => round), made.map(({ id }) => id)],
  );
}

/** Those that were not told on this channel since they came, or came back. */
const UNTOLD = `
  select r.id, r.round from reminder r
  where r.id = any($1::bigint[]) and r.status = 'open' and not exists (select from muted_kind k where k.kind = r.kind)
    and not exists (select from message_reminder mr
      where mr.reminder_id = r.id and mr.channel = $2 and mr.round = r.round)
  order by r.id`;

/** All of them in the digest that is next; one that was handed over already is closed, so then it is the one after. */
async function tellInDigest(
  tx: EntityManager,
  channel: Channel,
  setting: SettingRow,
  reminders: readonly number[],
): Promise<void> {
  const told = await tx.query<{ id: number; round: number }[]>(UNTOLD, [reminders, channel]);
  if (told.length === 0) return;
  const times = [setting.quiet_from, setting.quiet_to, setting.digest_at];
  let message: number | undefined;
  for (let later = 0; message === undefined; later++) {
    const rows = await tx.query<{ id: number }[]>(
      `with at as (select notice_time(now() + make_interval(days => $2), zone, $3, $4, $5) as due, zone
         from (select ${ZONE} as zone) z)
       insert into message (channel, is_digest, digest_on, due_at)
       select $1, true, (due at time zone zone)::date, due from at
       on conflict (channel, digest_on) where is_digest do update set due_at = excluded.due_at
         where message.status = 'waiting' and message.tries = 0 returning id`,
      [channel, later, ...times],
    );
    message = rows[0]?.id;
  }
  await tx.query(
    `insert into message_reminder (reminder_id, channel, round, message_id)
     select r, $1, n, $4 from unnest($2::bigint[], $3::int[]) as t (r, n)`,
    [channel, told.map(({ id }) => id), told.map(({ round }) => round), message],
  );
}
