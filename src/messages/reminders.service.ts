import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { REMINDER_KINDS } from './messages.schema.js';
import type { ReminderCounts, ReminderKind, ReminderPage, ReminderQuery, ReminderView } from './messages.schema.js';
import { OutboxService } from './outbox.service.js';
import { byText } from '../kernel/measure/text-order.js';

/** Something that is due to be told, as whoever decides that says it. */
export interface DueNotice {
  kind: ReminderKind;
  /** Names the cause: the same text is the same cause, told once as long as it lasts. */
  cause: string;
  title: string;
  detail: string;
  link: string;
  dueOn: string;
}

/** A cause that was gone for no longer than this is the same one still: plans waver. */
const SAME_CAUSE_DAYS = 3;
const SNOOZE_DAYS_MAX = 366;

/** The notices of the workshop: each cause once, as long as it lasts and nobody has dealt with it. */
@Injectable()
export class RemindersService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly outbox: OutboxService,
  ) {}

  /**
   * Takes what is due now of the kinds named, all of it: what is new is added and told, what is known is brought up to date, what is no
   * longer due is over, and what was put off until today or before comes back and is told again. In the caller's act.
   */
  async take(
    tx: EntityManager,
    due: readonly DueNotice[],
    { today, kinds }: { today: string; kinds: readonly ReminderKind[] },
  ): Promise<{ added: number; ended: number }> {
    const known = await tx.query<Known[]>(KNOWN, [today, SAME_CAUSE_DAYS, kinds]);
    const { fresh, stale, gone, back, awake } = compared(due, known, today);
    if (gone.length > 0) await tx.query(END, [gone, today]);
    if (stale.length > 0) await tx.query(REFRESH, [JSON.stringify(stale)]);
    if (back.length > 0) await tx.query(REVIVE, [back]);
    if (awake.length > 0) await tx.query(WAKE, [awake, today]);
    if (fresh.length > 0) await tx.query(ADD, [JSON.stringify(fresh)]);
    // also those that were open before there was a channel, or while their kind was muted
    const open = await tx.query<{ id: number }[]>(`select id from reminder where status = 'open'`);
    await this.outbox.tell(
      tx,
      open.map(({ id }) => id),
    );
    return { added: fresh.length + awake.length, ended: gone.length };
  }

  async list(query: ReminderQuery): Promise<ReminderPage> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const rows = await tx.query<ReminderView[]>(
        `${VIEW} where r.status = $1 and ($2::text is null or r.kind = $2)
           and ($3::bigint is null or (${RANK('r')}, r.due_on, r.id)
             > (select ${RANK('last')}, last.due_on, last.id from reminder last where last.id = $3))
         order by ${RANK('r')}, r.due_on, r.id limit $4`,
        [query.status, query.kind ?? null, query.after ?? null, query.limit + 1],
      );
      const reminders = rows.slice(0, query.limit);
      return { today, reminders, next: rows.length > query.limit ? reminders.at(-1)!.id : null };
    });
  }

  counts(): Promise<ReminderCounts> {
    return this.database.read(async (tx) => {
      const [row] = await tx.query<[ReminderCounts]>(
        `select count(*) filter (where status = 'open') as open, count(*) filter (where status = 'snoozed') as snoozed,
           count(*) filter (where status = 'acknowledged') as acknowledged,
           count(*) filter (where status = 'open' and kind in (select kind from muted_kind)) as muted
         from reminder where status <> 'over'`,
      );
      return row;
    });
  }

  /** Puts it off until a day, when it is told again if its cause is still there. Throws 404, 409 and 422. */
  async snooze(who: string, id: number, until: string): Promise<ReminderView> {
    const today = await this.clock.today();
    if (until <= today) throw invalid('/until', 'It comes back on a later day: choose one after today.');
    if (Date.parse(until) - Date.parse(today) > SNOOZE_DAYS_MAX * 86_400_000)
      throw invalid('/until', `It can be put off for up to ${SNOOZE_DAYS_MAX} days.`);
    return this.move(who, id, { from: ['open', 'snoozed'], to: 'snoozed', until });
  }

  /** Says that it was seen and dealt with: it is told no more as long as its cause lasts. Throws 404 and 409. */
  acknowledge(who: string, id: number): Promise<ReminderView> {
    return this.move(who, id, { from: ['open', 'snoozed', 'acknowledged'], to: 'acknowledged' });
  }

  /** Takes back that it was put off or dealt with. Throws 404 and 409. */
  reopen(who: string, id: number): Promise<ReminderView> {
    return this.move(who, id, { from: ['snoozed', 'acknowledged', 'open'], to: 'open' });
  }

  private move(
    who: string,
    id: number,
    step: { from: string[]; to: 'open' | 'snoozed' | 'acknowledged'; until?: string },
  ): Promise<ReminderView> {
    return this.database.act({ who }, async (tx) => {
      const [row] = await tx.query<{ status: string }[]>('select status from reminder where id = $1 for update', [id]);
      if (!row) throw notFound('reminder', id);
      if (!step.from.includes(row.status)) throw conflict('over', 'What it was about is over.');
      await tx.query(
        `update reminder set status = $2, snoozed_until = $3, changed_by = acting_person(), changed_at = now()
         where id = $1`,
        [id, step.to, step.until ?? null],
      );
      const [view] = await tx.query<[ReminderView]>(`${VIEW} where r.id = $1`, [id]);
      return view;
    });
  }
}

interface Known extends DueNotice {
  id: number;
  status: ReminderView['status'];
  snoozedUntil: string | null;
}

/** What is due beside what is known: what to add, to bring up to date, to end, to take up again, to wake. */
function compared(due: readonly DueNotice[], known: readonly Known[], today: string) {
  const byCause = new Map(known.map((row) => [row.cause, row]));
  const wanted = new Map(due.map((notice) => [notice.cause, notice]));
  const fresh: DueNotice[] = [];
  const stale: (DueNotice & { id: number })[] = [];
  const back: number[] = [];
  for (const notice of wanted.values()) {
    const row = byCause.get(notice.cause);
    if (!row) fresh.push(notice);
    else if (saysOther(row, notice)) stale.push({ ...notice, id: row.id });
    if (row?.status === 'over') back.push(row.id);
  }
  fresh.sort((a, b) => byText(a.dueOn, b.dueOn) || byText(a.cause, b.cause));
  const gone = known.filter((row) => row.status !== 'over' && !wanted.has(row.cause)).map(({ id }) => id);
  const awake = known
    .filter((row) => row.status === 'snoozed' && row.snoozedUntil! <= today && wanted.has(row.cause))
    .map(({ id }) => id);
  return { fresh, stale, gone, back, awake };
}

const saysOther = (a: DueNotice, b: DueNotice): boolean =>
  a.title !== b.title || a.detail !== b.detail || a.link !== b.link || a.dueOn !== b.dueOn;

/** Every cause that lasts, and those that went so short a while ago that their coming back is no news. */
const KNOWN = `
  select distinct on (cause) id, kind, cause, title, detail, link, due_on as "dueOn", status,
    snoozed_until as "snoozedUntil"
  from reminder where (status <> 'over' or over_on >= $1::date - $2::int) and kind = any($3)
  order by cause, status = 'over', id desc`;

const END = `
  update reminder set status = 'over', over_on = $2, snoozed_until = null, changed_by = acting_person(), changed_at = now()
  where id = any($1) and status <> 'over'`;

const REFRESH = `
  update reminder r set title = d.title, detail = d.detail, link = d.link, due_on = d."dueOn"
  from jsonb_to_recordset($1::jsonb) as d (id bigint, title text, detail text, link text, "dueOn" date)
  where r.id = d.id`;

const REVIVE = `
  update reminder set status = 'open', over_on = null, changed_by = acting_person(), changed_at = now()
  where id = any($1) and status = 'over'`;

const WAKE = `
  update reminder set status = 'open', snoozed_until = null, round = round + 1, changed_by = acting_person(),
    changed_at = now() where id = any($1) and status = 'snoozed' and snoozed_until <= $2`;

const ADD = `
  insert into reminder (kind, cause, title, detail, link, due_on)
  select kind, cause, title, detail, link, "dueOn"
  from jsonb_to_recordset($1::jsonb) as d (kind text, cause text, title text, detail text, link text, "dueOn" date)
  on conflict (cause) where status <> 'over' do nothing`;

/** What matters most comes first, and of a kind the earliest day. */
const RANK = (row: string): string => `array_position('{${REMINDER_KINDS.join(',')}}'::text[], ${row}.kind)`;

const VIEW = `
  select r.id, r.kind, r.title, r.detail, r.link, r.due_on as "dueOn", r.status,
    exists (select from muted_kind k where k.kind = r.kind) as muted, r.snoozed_until as "snoozedUntil",
    r.over_on as "overOn", to_char(r.created_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"') as since,
    r.changed_by as "changedBy",
    coalesce((select json_agg(json_build_object('channel', m.channel, 'message', m.uuid, 'status', m.status,
        'sentAt', to_char(m.sent_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"')) order by m.id)
      from message_reminder mr join message m on m.id = mr.message_id where mr.reminder_id = r.id), '[]') as sent
  from reminder r`;
