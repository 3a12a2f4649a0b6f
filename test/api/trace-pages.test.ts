import { beforeAll, describe, expect, it } from 'vitest';
import type { CustomerList } from '../../src/trace/contacts.schema.js';
import type { ComplaintView } from '../../src/trace/complaint.schema.js';
import type { RecallView } from '../../src/trace/recall.schema.js';
import type { TraceSettings } from '../../src/trace/settings.schema.js';
import { useTestApp } from '../support/app.js';
import { jpeg } from '../support/pictures.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';
import { pageText, sendForm } from '../support/page-forms.js';

const app = useTestApp({ today: '2026-06-01' });
const shelf = shelfOf(app);
let recall = '';

beforeAll(async () => {
  const shop = new TracedShop(app.database);
  await shop.open();
  await shop.buy('WAX', 'WAX-1', 1_000_000);
  await shop.make('CANDLE', 'CAN-1', [['WAX-1', 10_000]], 50);
  await shop.order('N1', 'Quentin Alder', 20, [['CAN-1', 8]]);
  const { customers } = await shelf.get<CustomerList>('/api/customers');
  await app.request('PUT', `/api/customers/${customers[0]!.id}/contact`, { contact: 'by mail: q@alder.example.org' });
  recall = (await shelf.done<RecallView>('/api/recalls', { lot: 'WAX-1', why: 'it soots' })).code;
});

const sent = (path: string, form: Record<string, string>) => sendForm(app, path, form);
const page = (path: string) => pageText(app, path);
const act = async (what: string, form: Record<string, string> = {}) =>
  (await sent(`/recalls/${recall}/${what}`, form)).location;
const status = async (lot: string) => (await shelf.get<{ status: string }>(`/api/lots/${lot}`)).status;

describe('the page of a recall', () => {
  it('leads to a letter for the mail program of everybody who has an address', async () => {
    const [, to, body] = /href="mailto:([^"?]+)\?subject=[^"&]+&(?:amp;)?body=([^"]+)"/.exec(
      await page(`/recalls/${recall}`),
    )!;
    expect(decodeURIComponent(to!)).toBe('q@alder.example.org');
    expect(decodeURIComponent(body!)).toMatch(/^Dear Quentin Alder,\r\n.*it soots.*lot CAN-1/s);
  });

  it('holds all, names it in the record, and lifts it with a reason', async () => {
    expect(await act('hold')).toBe(`/recalls/${recall}?said=held`);
    expect([await status('WAX-1'), await status('CAN-1')]).toEqual(['held', 'held']);
    expect(await page(`/recalls/${recall}`)).toMatch(/Lots held: 2 \([^)]*CAN-1[^)]*\)/);
    const refused = await sent(`/recalls/${recall}/lift`, { why: ' ' });
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('role="alert"');
    expect(await act('lift', { why: 'The wick was too long.' })).toBe(`/recalls/${recall}?said=lifted`);
    expect(await status('CAN-1')).toBe('released');
  });

  it('takes decisions, looks again, is closed and taken up again', async () => {
    expect(await act('decision', { why: 'Shorter wicks from now on.' })).toBe(`/recalls/${recall}?said=noted`);
    expect(await act('scope')).toBe(`/recalls/${recall}?said=wider`);
    expect(await act('letters', { sentBy: 'email' })).toBe(`/recalls/${recall}?said=written`);
    expect(await page(`/recalls/${recall}`)).not.toContain('mailto:');
    expect(await act('close', { why: 'Wicks.' })).toBe(`/recalls/${recall}?said=closed`);
    expect((await sent(`/recalls/${recall}/close`, { why: 'again' })).status).toBe(409);
    expect(await act('reopen', { why: 'Another one.' })).toBe(`/recalls/${recall}?said=reopened`);
    const { entries, status: state } = await shelf.get<RecallView>(`/api/recalls/${recall}`);
    expect(state).toBe('open');
    expect(entries.map(({ text }) => text)).toEqual(expect.arrayContaining(['Shorter wicks from now on.', 'Wicks.']));
  });

  it('keeps the words of the letter, and says what is wrong with a prefix', async () => {
    const form = { letter: 'To {customer}:\r\n{products}', contactDays: '700', companyPrefix: 'none' };
    const refused = await sent('/recalls/letter', form);
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('6 to 12 digits');
    expect((await sent('/recalls/letter', { ...form, companyPrefix: '' })).location).toBe('/recalls/letter?said=kept');
    expect(await shelf.get<TraceSettings>('/api/trace/settings')).toEqual({
      letter: 'To {customer}:\n{products}',
      contactDays: 700,
      companyPrefix: null,
    });
  });
});

describe('the page of a complaint', () => {
  it('takes answers, another day, photos and the outcome', async () => {
    const { code } = await shelf.done<ComplaintView>('/api/complaints', {
      description: 'Soot',
      harm: 'none',
      lot: 'CAN-1',
    });
    const at = `/complaints/${code}`;
    expect((await sent(`${at}/entry`, { kind: 'answer', text: 'Sorry.' })).location).toBe(at);
    expect((await sent(`${at}/due`, { dueOn: '2026-06-20' })).location).toBe(at);
    expect((await sent(`${at}/due`, { dueOn: 'soon' })).status).toBe(422);
    const photo = Buffer.concat([
      Buffer.from(
        '--x\r\ncontent-disposition: form-data; name="photo"; filename="p.jpg"\r\ncontent-type: image/jpeg\r\n\r\n',
      ),
      jpeg(),
      Buffer.from('\r\n--x--\r\n'),
    ]);
    const kept = await app.request('POST', `${at}/photo`, photo, {
      'content-type': 'multipart/form-data; boundary=x',
      accept: 'text/html',
    });
    expect(kept.status, kept.text).toBe(303);
    expect((await sent(`${at}/entry`, { kind: 'closed', text: 'Money back.' })).location).toBe(at);
    const view = await shelf.get<ComplaintView>(`/api${at}`);
    expect(view).toMatchObject({ status: 'closed', dueOn: '2026-06-20', photos: [{ type: 'image/jpeg' }] });
    expect(await page(at)).toContain('Money back.');
    expect(await page('/complaints')).toContain('Closed');
  });
});

describe('the page of a lot', () => {
  it('leads to its trace, which leads to its events', async () => {
    expect(await page('/shelf/lots/CAN-1')).toContain('href="/trace/CAN-1"');
    const trace = await page('/trace/CAN-1');
    expect(trace).toContain('href="/api/trace/lots/CAN-1/epcis"');
    expect(trace).toContain('href="/complaints?lot=CAN-1#new"');
    expect(await page('/complaints?lot=CAN-1')).toMatch(/<input id="new-lot"[^>]*value="CAN-1"/);
    expect(await page('/orders/shop/N1')).toContain('href="/complaints?channel=shop&number=N1#new"');
    expect(trace).toMatch(/lot WAX-1<\/th>/);
    expect((await app.request('GET', '/trace/NONE', undefined, { accept: 'text/html' })).status).toBe(404);
  });
});
