import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { signatureOf } from '../../src/messages/webhook.channel.js';
import { QueueService } from '../../src/messages/queue.service.js';
import { RelayService } from '../../src/messages/relay.service.js';
import { startTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { startMailSink, startPostSink } from '../support/receivers.js';
import type { MailSink, PostSink } from '../support/receivers.js';
import { startTestRedis } from '../support/redis.js';
import type { TestRedis } from '../support/redis.js';
import { until } from '../support/until.js';

const TODAY = '2026-11-25';
vi.setConfig({ testTimeout: 90_000 });

interface Reminder {
  id: number;
  kind: string;
  title: string;
  status: string;
  sent: { channel: string; message: string; status: string }[];
}

const SETTINGS = {
  emailTo: ['maker@example.org'],
  emailDigest: false,
  webhookUrl: '',
  webhookDigest: false,
  digestAt: '07:00',
  quietFrom: null,
  quietTo: null,
  countDays: 0,
  limitMonths: 0,
};

const redis = await startTestRedis();
const backends: { kind: 'postgres' | 'redis'; redis?: TestRedis }[] = [{ kind: 'postgres' }];
if ('missing' in redis) console.error(`Nothing of the jobs on Redis was tested: ${redis.missing}`);
else backends.push({ kind: 'redis', redis });
afterAll(async () => {
  if (!('missing' in redis)) await redis.stop();
});

describe.each(backends)('reminders with the jobs on $kind', ({ kind, redis: server }) => {
  let app: TestApp;
  let mail: MailSink;
  let posts: PostSink;

  beforeAll(async () => {
    mail = await startMailSink();
    posts = await startPostSink();
    app = await startTestApp({
      today: TODAY,
      config: {
        worker: 'here',
        redisUrl: server?.url,
        smtp: { url: mail.url, from: 'Workshop <notices@example.org>' },
        webhookAllow: ['127.0.0.1'],
      },
    });
    await app.request('PUT', '/api/workshop', {
      ...(await app.request('GET', '/api/workshop')).body,
      isDemo: undefined,
      timeZone: 'Europe/Berlin',
    });
    await app.request('PUT', '/api/reminders/settings', SETTINGS);
    await app.database.query(
      `insert into supplier (code, name) values ('S-1', 'Supplier One');
       insert into item (code, name, kind, measure) values ('FO-1', 'Fig', 'material', 'weighed')`,
    );
  });
  afterAll(async () => {
    await app.close();
    await mail.stop();
    await posts.stop();
  });

  const open = async (status = 'open') =>
    (await app.request<{ reminders: Reminder[] }>('GET', `/api/reminders?status=${status}&limit=1000`)).body.reminders;
  /** A cause of a notice: something that should have come by now. */
  const expectDelivery = async (code: string): Promise<void> => {
    await app.database.query(
      `with d as (insert into delivery (code, supplier_id, expected_on)
         select $1, id, date '2026-11-20' from supplier where code = 'S-1' returning id)
       insert into delivery_line (delivery_id, item_id, quantity) select d.id, i.id, 1000 from d, item i where i.code = 'FO-1'`,
      [code],
    );
  };
  const look = async () => expect((await app.request('POST', '/api/reminders/look')).status).toBe(204);
  const about = (code: string) => (reminder: Reminder) => reminder.title.startsWith(code);
  const mailsAbout = (code: string) => mail.mails.filter(({ text }) => text?.includes(code));

  it('tells of a cause once, by email, under one message id, although it lasts', async () => {
    await expectDelivery('D-ONCE');
    await look();
    const [reminder] = await until(
      async () => (await open()).filter(about('D-ONCE')),
      (found) => found[0]?.sent[0]?.status === 'sent',
    );
    const [sent] = mailsAbout('D-ONCE');
    expect(sent!.messageId).toBe(`<${reminder!.sent[0]!.message}@lotwright>`);
    expect(sent!.subject).toContain('D-ONCE from Supplier One has not come');
    const before = (await app.request<{ lastSweep: { doneAt: string } }>('GET', '/api/jobs')).body.lastSweep;
    await app.database.query(`select pg_sleep(1)`);
    await look();
    await until(
      async () => (await app.request<{ lastSweep: { doneAt: string } }>('GET', '/api/jobs')).body.lastSweep,
      (sweep) => sweep.doneAt !== before.doneAt,
    );
    expect((await open()).filter(about('D-ONCE'))).toHaveLength(1);
    expect(mailsAbout('D-ONCE')).toHaveLength(1);
  });

  it('learns of a change by itself, and ends what no longer holds', async () => {
    await expectDelivery('D-SEEN');
    await until(open, (found) => found.some(about('D-SEEN')));
    await app.database.query(`update delivery set status = 'cancelled' where code = 'D-SEEN'`);
    const over = await until(
      () => open('over'),
      (found) => found.some(about('D-SEEN')),
    );
    expect(over.filter(about('D-SEEN'))).toHaveLength(1);
    // the look that ended it may have been under way already when it changed; then the next one puts the change away
    const changes = () => app.database.query('select 1 from change');
    expect(await until(changes, (left) => left.length === 0)).toEqual([]);
  });

  it('tries again where the mail server refuses, under the same id, and shows what was wrong', async () => {
    mail.refuse({ code: 451, text: 'try later' });
    await expectDelivery('D-REFUSED');
    await look();
    const { body } = await until(
      () => app.request<{ failing: { about: string; error: string; message: string }[] }>('GET', '/api/jobs'),
      ({ body: { failing } }) => failing.some((row) => row.about.startsWith('D-REFUSED')),
    );
    const failing = body.failing.find((row) => row.about.startsWith('D-REFUSED'))!;
    expect(failing.error).toContain('try later');
    expect(mailsAbout('D-REFUSED')).toEqual([]);
    mail.refuse(null);
    const [sent] = await until(
      () => mailsAbout('D-REFUSED'),
      (found) => found.length > 0,
    );
    expect(sent!.messageId).toBe(`<${failing.message}@lotwright>`);
  });

  it('posts to a webhook with a signature that can be checked', async () => {
    await app.request('PUT', '/api/reminders/settings', { ...SETTINGS, emailTo: [], webhookUrl: posts.url });
    const { body } = await app.request<{ secret: string }>('POST', '/api/reminders/settings/webhook-secret');
    await expectDelivery('D-POSTED');
    await look();
    const found = await until(
      () => posts.posts.filter(({ body: text }) => text.includes('D-POSTED')),
      (list) => list.length > 0,
    );
    const { headers, body: text } = found[0]!;
    const id = String(headers['webhook-id']);
    const seconds = Number(headers['webhook-timestamp']);
    expect(headers['webhook-signature']).toBe(signatureOf(body.secret, { id, seconds, body: text }));
    expect(JSON.parse(text)).toMatchObject({ id, reminders: [{ kind: 'late-delivery' }] });
    await app.request('PUT', '/api/reminders/settings', SETTINGS);
  });

  it('tells nothing of a muted kind, of what is put off or dealt with, and tells it after that', async () => {
    await app.request('PUT', '/api/reminders/settings/muted/late-delivery');
    await expectDelivery('D-MUTED');
    await look();
    const [muted] = await until(
      async () => (await open()).filter(about('D-MUTED')),
      (found) => found.length === 1,
    );
    expect(muted!.sent).toEqual([]);
    await app.request('DELETE', '/api/reminders/settings/muted/late-delivery');
    await look();
    await until(
      () => mailsAbout('D-MUTED'),
      (found) => found.length === 1,
    );
    const snoozed = await app.request('POST', `/api/reminders/${muted!.id}/snooze`, { until: '2026-11-27' });
    expect(snoozed.body).toMatchObject({ status: 'snoozed', snoozedUntil: '2026-11-27' });
    expect((await app.request('POST', `/api/reminders/${muted!.id}/snooze`, { until: TODAY })).status).toBe(422);
    await app.database.query(`update reminder set snoozed_until = '${TODAY}' where id = $1`, [muted!.id]);
    await look();
    const again = await until(
      () => mailsAbout('D-MUTED'),
      (found) => found.length === 2,
    );
    expect(new Set(again.map(({ messageId }) => messageId)).size).toBe(2);
    const done = await app.request('POST', `/api/reminders/${muted!.id}/acknowledge`);
    expect(done.body).toMatchObject({ status: 'acknowledged' });
    await look();
    expect((await open()).filter(about('D-MUTED'))).toEqual([]);
  });

  it('gathers a day of notices in one digest, which says nothing of what was dealt with meanwhile', async () => {
    await app.request('PUT', '/api/reminders/settings', { ...SETTINGS, emailDigest: true });
    for (const code of ['D-DIG1', 'D-DIG2', 'D-DIG3']) await expectDelivery(code);
    await look();
    const digested = await until(
      async () => (await open()).filter((reminder) => reminder.title.startsWith('D-DIG')),
      (found) => found.length === 3 && found.every(({ sent }) => sent.length === 1),
    );
    expect(new Set(digested.map(({ sent }) => sent[0]!.message)).size).toBe(1);
    expect(digested[0]!.sent[0]!.status).toBe('waiting');
    await app.request('POST', `/api/reminders/${digested[1]!.id}/acknowledge`);
    await app.database.query(`update message set due_at = now() where is_digest and status = 'waiting'`);
    const [sent] = await until(
      () => mailsAbout('D-DIG1'),
      (found) => found.length > 0,
    );
    expect(sent!.subject).toContain('2 reminders, the first: ');
    expect(sent!.text).toContain('D-DIG3');
    expect(sent!.text).not.toContain('D-DIG2');
    await app.request('PUT', '/api/reminders/settings', SETTINGS);
  });

  it('sends once what is handed over twice', async () => {
    await expectDelivery('D-TWICE');
    await look();
    const [reminder] = await until(
      async () => (await open()).filter(about('D-TWICE')),
      (found) => found[0]?.sent[0]?.status === 'sent',
    );
    // as if the queue had been emptied before its worker could say that it was done, and both came again
    const queue = app.app.get(QueueService);
    const message = reminder!.sent[0]!.message;
    await queue.add([1, 2, 3].map((n) => ({ name: 'send', data: { message }, options: { jobId: `again-${n}` } })));
    await until(
      async () => (await app.request<{ queue: { waiting: number; active: number } }>('GET', '/api/jobs')).body.queue,
      ({ waiting, active }) => waiting + active === 0,
    );
    expect(mailsAbout('D-TWICE')).toHaveLength(1);
  });

  it('shows how the jobs are doing, and keeps the nightly look by the clock of the workshop', async () => {
    const { body } = await app.request<{
      queue: { kind: string; reached: boolean; nightlyAt: string; workers: number };
    }>('GET', '/api/jobs');
    expect(body.queue).toMatchObject({ kind, reached: true, workers: 1 });
    await app.app.get(RelayService).look();
    const clock = new Intl.DateTimeFormat('en-GB', { timeZone: 'Europe/Berlin', timeStyle: 'short' });
    const { nightlyAt } = (await app.request<{ queue: { nightlyAt: string } }>('GET', '/api/jobs')).body.queue;
    expect(clock.format(new Date(nightlyAt))).toBe('04:10');
    const metrics = await app.request('GET', '/metrics');
    expect(metrics.text).toContain('lotwright_messages{status="sent"} ');
    expect(metrics.text).toContain(`lotwright_queue_up{backend="${kind}"} 1`);
  });
});

describe.each(backends)('with nothing due and the jobs on $kind', ({ redis: server }) => {
  it('leaves remembered plans good', async () => {
    const app = await startTestApp({ today: TODAY, isAlone: true, config: { worker: 'here', redisUrl: server?.url } });
    const relay = app.app.get(RelayService);
    // a transaction that wrote has a number: none may be between two given here
    const given = async () =>
      (await app.database.query<{ n: number }>('select pg_current_xact_id()::text::int as n'))[0]!.n;
    const wroteWhileLooking = async () => {
      const before = await given();
      for (let looks = 0; looks < 3; looks++) await relay.look();
      // it looks by itself twenty times
      await new Promise((resolve) => setTimeout(resolve, 2_000));
      return (await given()) - before - 1;
    };
    // what a start leaves to be done is done first
    expect(await until(wroteWhileLooking, (wrote) => wrote === 0)).toBe(0);
    await app.close();
  });
});
