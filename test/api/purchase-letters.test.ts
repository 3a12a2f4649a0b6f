import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import type { PurchaseOrderView } from '../../src/purchasing/purchase-orders.schema.js';
import { startTestApp, type TestApp, useTestApp } from '../support/app.js';
import { type MailSink, startMailSink } from '../support/receivers.js';
import { until } from '../support/until.js';

const TODAY = '2026-11-25';
vi.setConfig({ testTimeout: 60_000 });

let app: TestApp;
let mail: MailSink;
beforeAll(async () => {
  mail = await startMailSink();
  app = await startTestApp({
    today: TODAY,
    config: { worker: 'here', smtp: { url: mail.url, from: 'Workshop <orders@example.org>' } },
  });
  await setUp(app);
});
afterAll(async () => {
  await app.close();
  await mail.stop();
});

const done = async <Body>(method: string, url: string, body?: unknown, by = app): Promise<Body> => {
  const answer = await by.request<Body>(method, url, body);
  expect(answer.status, answer.text).toBeLessThan(300);
  return answer.body;
};

async function setUp(by: TestApp): Promise<void> {
  await done('POST', '/api/suppliers', { code: 'OILS', name: 'Oils & Co', account: 'K-17' }, by);
  await done('POST', '/api/items', { code: 'FO-FIG', name: 'Fig', kind: 'material', measure: 'weighed' }, by);
  const pack = { supplier: 'OILS', item: 'FO-FIG', code: '=FIG-1', size: '500 g', priceE4: 123_450, leadDays: 7 };
  await done('POST', '/api/packs', pack, by);
}

const draft = async (by = app): Promise<string> =>
  (
    await done<PurchaseOrderView>(
      'POST',
      '/api/purchase-orders',
      { supplier: 'OILS', lines: [{ pack: '=FIG-1', packs: 3 }], note: 'Ring twice' },
      by,
    )
  ).code;
const order = (code: string) => done<PurchaseOrderView>('GET', `/api/purchase-orders/${code}`);
const mailsAbout = (code: string) => mail.mails.filter(({ subject }) => subject?.includes(code));
/** The order once its email is in this state. */
const letterIs = (code: string, state: (letter: NonNullable<PurchaseOrderView['letter']>) => boolean) =>
  until(
    () => order(code),
    ({ letter }) => letter !== null && state(letter),
  );

describe('a purchase order by email', () => {
  beforeEach(() => mail.refuse(null));

  it('leaves once, with the order as PDF and as a table, and keeps an address that was not known', async () => {
    const code = await draft();
    const nowhere = await app.request<{ code: string }>('POST', `/api/purchase-orders/${code}/email`, {});
    expect([nowhere.status, nowhere.body.code]).toEqual([422, 'no-address']);
    await done('PUT', '/api/reminders/settings', {
      ...(await done<object>('GET', '/api/reminders/settings')),
      emailTo: ['maker@example.org'],
      emailServer: undefined,
      calendarSince: undefined,
    });
    const to = 'orders@oils.example';
    // both at once, as two who press the button
    const both = await Promise.all(
      [1, 2].map(() => app.request<PurchaseOrderView>('POST', `/api/purchase-orders/${code}/email`, { to })),
    );
    expect(both.map(({ status }) => status).sort()).toEqual([200, 409]);
    const sent = await letterIs(code, ({ status }) => status === 'sent');
    expect(sent).toMatchObject({ status: 'sent', sentOn: TODAY, sentBy: 'email', supplierEmail: to, letter: { to } });
    const [letter, ...more] = mailsAbout(code);
    expect(more).toEqual([]);
    expect(letter!.messageId).toBe(`<${sent.letter!.message}@lotwright>`);
    expect(letter!.subject).toBe(`Order ${code} of Workshop`);
    expect([letter!.to].flat()[0]!.text).toBe(to);
    expect(letter!.replyTo!.text).toBe('maker@example.org');
    expect(letter!.text).toMatch(
      /3 x =FIG-1, Fig, 500 g each, at [^\n]*12\.35.*Our number with you: K-17.*Ring twice/s,
    );
    const [pdf, table] = letter!.attachments;
    expect([pdf!.filename, pdf!.contentType]).toEqual([`${code}.pdf`, 'application/pdf']);
    expect(pdf!.content.subarray(0, 5).toString()).toBe('%PDF-');
    expect([table!.filename, table!.contentType]).toEqual([`${code}.csv`, 'text/csv']);
    // a code that a spreadsheet would take for a formula is quoted
    expect(table!.content.toString()).toContain(`${code},1,'=FIG-1,Fig,500 g,3,12.3450,37.0350,`);
    // known now
    expect((await done<PurchaseOrderView>('POST', `/api/purchase-orders/${await draft()}/email`, {})).letter!.to).toBe(
      to,
    );
  });

  it('is tried again under the same id when it is refused, and says so meanwhile', async () => {
    mail.refuse({ code: 451, text: 'try later' });
    const code = await draft();
    await done('POST', `/api/purchase-orders/${code}/email`, { to: 'orders@oils.example' });
    const failing = await letterIs(code, ({ error }) => error.includes('try later'));
    expect(failing.letter!.status).not.toBe('sent');
    const page = await app.request('GET', `/purchase-orders/${code}`, undefined, { accept: 'text/html' });
    expect(page.text).toContain('The email to orders@oils.example has not left: ');
    mail.refuse(null);
    const sent = await letterIs(code, ({ status }) => status === 'sent');
    expect(sent.letter!.message).toBe(failing.letter!.message);
    expect(mailsAbout(code).map(({ messageId }) => messageId)).toEqual([`<${failing.letter!.message}@lotwright>`]);
  });

  it('never leaves once the order is taken back or given up before', async () => {
    mail.refuse({ code: 451, text: 'not yet' });
    const [back, cancelled] = [await draft(), await draft()];
    for (const code of [back, cancelled]) {
      await done('POST', `/api/purchase-orders/${code}/email`, { to: 'orders@oils.example' });
      await letterIs(code, ({ error }) => error.includes('not yet'));
    }
    const act = (path: string, body?: unknown) =>
      until(
        () => app.request<PurchaseOrderView>('POST', `/api/purchase-orders/${path}`, body),
        ({ status }) => status === 200,
      );
    expect((await act(`${back}/take-back`)).body).toMatchObject({ status: 'draft', letter: null });
    await act(`${cancelled}/cancel`, { why: 'not needed' });
    expect((await order(cancelled)).letter!.status).toBe('dropped');
    mail.refuse(null);
    const after = await draft();
    await done('POST', `/api/purchase-orders/${after}/email`, { to: 'orders@oils.example' });
    await letterIs(after, ({ status }) => status === 'sent');
    await app.database.query('select pg_sleep(8)');
    expect([...mailsAbout(back), ...mailsAbout(cancelled)]).toEqual([]);
  });
});

describe('without a server for email', () => {
  const plain = useTestApp({ today: TODAY });

  it('an order is downloaded instead', async () => {
    await setUp(plain);
    const code = await draft(plain);
    const answer = await plain.request<{ code: string }>('POST', `/api/purchase-orders/${code}/email`, {
      to: 'a@b.example',
    });
    expect([answer.status, answer.body.code]).toEqual([409, 'no-email-server']);
    const page = await plain.request('GET', `/purchase-orders/${code}`, undefined, { accept: 'text/html' });
    expect(page.text).not.toContain('Send it by email');
    expect(page.text).toContain('As a PDF');
  });
});
