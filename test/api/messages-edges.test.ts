import ICAL from 'ical.js';
import { Pool } from 'pg';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { OutboxService } from '../../src/messages/outbox.service.js';
import { HeardClient } from '../../src/platform/pool-options.js';
import { QueueService } from '../../src/messages/queue.service.js';
import { Database } from '../../src/platform/database.js';
import { startTestApp, useTestApp } from '../support/app.js';
import { startMailSink, startPostSink } from '../support/receivers.js';
import type { MailSink, PostSink } from '../support/receivers.js';
import { until } from '../support/until.js';

vi.setConfig({ testTimeout: 90_000 });
const TODAY = '2026-11-25';

const SETTINGS = {
  emailTo: [],
  emailDigest: false,
  webhookUrl: '',
  webhookDigest: false,
  digestAt: '07:00',
  quietFrom: null,
  quietTo: null,
  countDays: 0,
  limitMonths: 0,
};

interface Jobs {
  failing: { about: string; error: string }[];
}

describe('when a notice goes out', () => {
  const app = useTestApp({ today: TODAY });
  const at = async (ready: string, quiet: [string, string] | null, digest: string | null, zone = 'Europe/Berlin') => {
    const [row] = await app.database.query<{ local: string; due: Date }>(
      `select to_char(due at time zone $2, 'YYYY-MM-DD HH24:MI') as local, due
       from notice_time($1::timestamptz, $2, $3::time, $4::time, $5::time) as due`,
      [ready, zone, quiet?.[0] ?? null, quiet?.[1] ?? null, digest],
    );
    return row!.local;
  };

  it('is at once, or after the quiet hours, over midnight or not', async () => {
    expect(await at('2026-11-25T14:00Z', null, null)).toBe('2026-11-25 15:00');
    expect(await at('2026-11-25T14:00Z', ['22:00', '06:30'], null)).toBe('2026-11-25 15:00');
    expect(await at('2026-11-25T21:30Z', ['22:00', '06:30'], null)).toBe('2026-11-26 06:30');
    expect(await at('2026-11-26T03:00Z', ['22:00', '06:30'], null)).toBe('2026-11-26 06:30');
    expect(await at('2026-11-25T12:00Z', ['12:00', '14:00'], null)).toBe('2026-11-25 14:00');
    expect(await at('2026-11-25T13:00Z', ['12:00', '14:00'], null)).toBe('2026-11-25 14:00');
  });

  it('is with the next digest, which waits for the end of the quiet hours', async () => {
    expect(await at('2026-11-25T05:59Z', null, '07:00')).toBe('2026-11-25 07:00');
    expect(await at('2026-11-25T06:00Z', null, '07:00')).toBe('2026-11-25 07:00');
    expect(await at('2026-11-25T06:01Z', null, '07:00')).toBe('2026-11-26 07:00');
    expect(await at('2026-11-25T05:00Z', ['22:00', '08:15'], '07:00')).toBe('2026-11-25 08:15');
  });

  // clocks in Berlin went from 02:00 to 03:00 on 29 March 2026 and from 03:00 to 02:00 on 25 October 2026 (tz database)
  it('keeps to the clock on the wall when that is changed, and no day has two digests or none', async () => {
    for (const [from, digest] of [
      ['2026-03-26T12:00Z', '07:00'],
      ['2026-03-26T12:00Z', '02:30'],
      ['2026-10-22T12:00Z', '07:00'],
      ['2026-10-22T12:00Z', '02:30'],
    ] as const) {
      const rows = await app.database.query<{ day: string; n: number; clock: string[] }>(
        `select (due at time zone 'Europe/Berlin')::date::text as day, count(distinct due)::int as n,
           array_agg(distinct to_char(due at time zone 'Europe/Berlin', 'HH24:MI')) as clock
         from generate_series($1::timestamptz, $1::timestamptz + interval '6 days', interval '10 minutes') ready,
           notice_time(ready, 'Europe/Berlin', null, null, $2::time) due
         where due >= ready group by 1 order by 1`,
        [from, digest],
      );
      expect(rows.length, `${from} ${digest}`).toBeGreaterThanOrEqual(6);
      expect(
        rows.every(({ n }) => n === 1),
        JSON.stringify(rows),
      ).toBe(true);
      const usual = rows.filter(({ clock }) => clock[0] === digest).length;
      expect(usual).toBe(digest === '02:30' && from.startsWith('2026-03') ? rows.length - 1 : rows.length);
    }
  });

  it('is never before it is ready, and never in the quiet hours, around both changes of the clock', async () => {
    const wrong = await app.database.query(
      `select ready, due from unnest(array['2026-03-27 12:00Z', '2026-10-23 12:00Z']::timestamptz[]) start_,
         generate_series(start_, start_ + interval '4 days', interval '7 minutes') ready,
         unnest(array['Europe/Berlin', 'America/New_York', 'Australia/Lord_Howe', 'Asia/Kolkata']) zone,
         (values (time '22:00', time '06:30'), ('01:30', '02:30'), ('02:00', '03:30'), ('12:00', '14:00')) q (a, b),
         (values (null::time), ('07:00'), ('02:30')) d (digest),
         notice_time(ready, zone, q.a, q.b, d.digest) due
       where due < ready or due > ready + interval '49 hours'
         or case when q.a < q.b then (due at time zone zone)::time >= q.a and (due at time zone zone)::time < q.b
           else (due at time zone zone)::time >= q.a or (due at time zone zone)::time < q.b end`,
    );
    expect(wrong).toEqual([]);
  });
});

describe('the calendar', () => {
  const app = useTestApp({ today: TODAY });
  const get = (path: string) => app.request('GET', path);

  it('is at an address that only who was told it knows, until it is taken back', async () => {
    expect((await get('/calendar/anything.ics')).status).toBe(404);
    const { body } = await app.request<{ path: string }>('POST', '/api/reminders/calendar');
    expect(body.path).toMatch(/^\/calendar\/[\w-]{43}\.ics$/);
    const answer = await get(body.path);
    expect(answer.status).toBe(200);
    expect(answer.headers['content-type']).toBe('text/calendar; charset=utf-8');
    const kept = await app.database.query(`select to_jsonb(s)::text as row from notice_setting s`);
    expect(JSON.stringify(kept)).not.toContain(body.path.slice(10, 40));
    const next = await app.request<{ path: string }>('POST', '/api/reminders/calendar');
    expect((await get(body.path)).status).toBe(404);
    expect((await get(next.body.path)).status).toBe(200);
    expect((await app.request('DELETE', '/api/reminders/calendar')).status).toBe(204);
    expect((await get(next.body.path)).status).toBe(404);
  });

  it('shows when to make, to release and to order', async () => {
    const { DemoService } = await import('../../src/demo/demo.service.js');
    await app.app.get(DemoService).load(TODAY, 'test');
    const run = await app.request<{ id: number }>('POST', '/api/runs', {});
    await app.request('POST', `/api/runs/${run.body.id}/commit`);
    const { body } = await app.request<{ path: string }>('POST', '/api/reminders/calendar');
    const { text } = await get(body.path);
    const calendar = new ICAL.Component(ICAL.parse(text));
    const events = calendar.getAllSubcomponents('vevent').map((found) => new ICAL.Event(found));
    const batches = await app.database.query<{ code: string; day: string; ready_on: string }>(
      `select code, day, ready_on from batch where status in ('planned', 'reserved') order by code`,
    );
    expect(batches.length).toBeGreaterThan(10);
    const days = new Map(events.map(({ uid, startDate }) => [uid, startDate.toString()]));
    for (const { code, day, ready_on: readyOn } of batches) {
      expect(days.get(`pour-${code}@lotwright`)).toBe(day);
      if (readyOn !== day) expect(days.get(`release-${code}@lotwright`)).toBe(readyOn);
    }
    expect([...days.keys()].filter((uid) => uid.startsWith('order-')).length).toBeGreaterThan(0);
    expect(new Set(days.keys()).size).toBe(events.length);
  });
});

describe('what goes out', () => {
  let mail: MailSink;
  let posts: PostSink;
  let app: Awaited<ReturnType<typeof startTestApp>>;
  beforeAll(async () => {
    [mail, posts] = [await startMailSink(), await startPostSink()];
    const smtp = { url: mail.url, from: 'Workshop <notices@example.org>' };
    app = await startTestApp({ today: TODAY, isQuiet: true, config: { worker: 'here', smtp } });
    await app.database.query(
      `insert into workshop (name) values ('Small Shop'); insert into supplier (code, name) values ('S-1', 'Supplier One');
       insert into item (code, name, kind, measure) values ('FO-1', 'Fig', 'material', 'weighed')`,
    );
  });
  afterAll(async () => {
    await app.close();
    await Promise.all([mail.stop(), posts.stop()]);
  });

  const expectDelivery = (code: string) =>
    app.database.query(
      `insert into delivery (code, supplier_id, expected_on) select $1, id, '2026-11-20' from supplier`,
      [code],
    );
  const failing = async () => (await app.request<Jobs>('GET', '/api/jobs')).body.failing;

  it('takes a letter with files along with the act it belongs to, and only with it', async () => {
    const outbox = app.app.get(OutboxService);
    const letter = {
      to: ['orders@supplier.example'],
      subject: 'Order PO-1',
      text: 'Please send what is attached.\n',
      replyTo: 'maker@example.org',
      files: [{ name: 'PO-1 wax.csv', type: 'text/csv', content: Buffer.from('item,packs\r\nwax,2\r\n') }],
    };
    const broken = app.app.get(Database).act({ who: 'test' }, async (tx) => {
      await outbox.write(tx, { ...letter, subject: 'never' });
      throw new Error('taken back');
    });
    await expect(broken).rejects.toThrow('taken back');
    const id = await app.app.get(Database).act({ who: 'test' }, (tx) => outbox.write(tx, letter));
    const [found] = await until(
      () => mail.mails.filter(({ subject }) => subject === 'Order PO-1'),
      (list) => list.length > 0,
    );
    expect(found!.messageId).toBe(`<${id}@lotwright>`);
    expect(found!.replyTo?.text).toBe('maker@example.org');
    expect(found!.attachments[0]).toMatchObject({ filename: 'PO-1 wax.csv', contentType: 'text/csv' });
    expect(found!.attachments[0]!.content.toString()).toBe('item,packs\r\nwax,2\r\n');
    expect(mail.mails.filter(({ subject }) => subject === 'never')).toEqual([]);
  });

  it('is not posted to an address within, and nothing is asked there', async () => {
    const put = (webhookUrl: string) =>
      app.request<{ detail: string; errors: { pointer: string }[] }>('PUT', '/api/reminders/settings', {
        ...SETTINGS,
        webhookUrl,
      });
    for (const url of [posts.url, 'http://[3fff::1]/', 'https://[::ffff:10.0.0.1]/in', 'http://2130706433/']) {
      const refused = await put(url);
      expect([refused.status, refused.body.errors[0]!.pointer], url).toEqual([422, '/webhookUrl']);
      expect(refused.body.errors[0], url).toMatchObject({ detail: expect.stringContaining('no public address') });
    }
    // a name nobody knows today may be known tomorrow
    expect((await put('https://hooks.invalid/')).status).toBe(200);
    // as it was saved before it was looked at
    await app.database.query('update notice_setting set webhook_url = $1', [posts.url]);
    await expectDelivery('D-INSIDE');
    const found = await until(failing, (list) => list.some(({ error }) => error.includes('no public address')));
    expect(found[0]!.about).toContain('D-INSIDE');
    expect(posts.posts).toEqual([]);
  });

  it('refuses a job that two would do, and to start where nobody would', async () => {
    const queue = app.app.get(QueueService);
    expect(() => queue.handle('send', async () => {})).toThrow('two handlers for jobs called send');
    const alone = new QueueService({} as never, {} as never);
    await expect(alone.onApplicationBootstrap()).rejects.toThrow('no handler for jobs called send, sweep');
  });
});

describe('a webhook that sends on', () => {
  it('is not followed, and is tried again', async () => {
    const [inner, outer] = [await startPostSink(), await startPostSink()];
    outer.answer(307, { location: inner.url });
    const app = await startTestApp({
      today: TODAY,
      isQuiet: true,
      config: { worker: 'here', webhookAllow: ['127.0.0.1'] },
    });
    try {
      await app.database.query(
        `insert into workshop (name) values ('Small Shop'); insert into supplier (code, name) values ('S-1', 'One');
         insert into delivery (code, supplier_id, expected_on) select 'D-ON', id, '2026-11-20' from supplier`,
      );
      await app.request('PUT', '/api/reminders/settings', { ...SETTINGS, webhookUrl: outer.url });
      await until(
        async () => (await app.request<Jobs>('GET', '/api/jobs')).body.failing,
        (list) => list.some(({ error }) => error.includes('answered 307')),
      );
      expect(inner.posts).toEqual([]);
      outer.answer(204);
      const posted = await until(
        () => outer.posts,
        (list) => list.length > 1,
      );
      expect(new Set(posted.map(({ headers }) => headers['webhook-id'])).size).toBe(1);
    } finally {
      await app.close();
      await Promise.all([inner.stop(), outer.stop()]);
    }
  });
});

describe('a connection of the queue', () => {
  const app = useTestApp({ today: TODAY });

  // an error nobody listens to ends the process, and a run of tests that sees one fails
  it('that is cut between two statements says so to whoever asks next', async () => {
    const pool = new Pool({ connectionString: app.database.url, Client: HeardClient });
    const client = await pool.connect();
    const { rows } = await client.query<{ pid: number }>('select pg_backend_pid() as pid');
    const ended = new Promise((resolve) => client.once('end', resolve));
    await app.database.query(`select pg_terminate_backend(${rows[0]!.pid})`);
    await ended;
    await expect(client.query('select 1')).rejects.toThrow(/terminated|not queryable/);
    client.release(true);
    await pool.end();
  });
});
