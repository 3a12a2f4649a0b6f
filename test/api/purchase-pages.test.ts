import { describe, expect, it } from 'vitest';
import type { PurchaseOrderView } from '../../src/purchasing/purchase-orders.schema.js';
import type { ReorderList } from '../../src/reorder/reorder.schema.js';
import { useTestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';

const TODAY = '2026-11-25';
const app = useTestApp({ today: TODAY, filled: DEMONSTRATION });

const html = { accept: 'text/html' };
const page = async (path: string): Promise<string> => {
  const answer = await app.request('GET', path, undefined, html);
  expect(answer.status, path).toBe(200);
  return answer.text;
};
/** Sends a form and answers where it leads, or its status and what the page says. */
async function send(path: string, form: Record<string, string>): Promise<string> {
  const answer = await app.app.inject({ method: 'POST', url: path, payload: form, headers: html });
  return answer.statusCode === 303 ? String(answer.headers['location']) : `${answer.statusCode} ${answer.payload}`;
}
const order = async (code: string) =>
  (await app.request<PurchaseOrderView>('GET', `/api/purchase-orders/${code}`)).body;

describe('the pages of purchasing', () => {
  it('lead from the reorder list to a draft, a sent, a confirmed order, and what came of it', async () => {
    const { orders } = (await app.request<ReorderList>('GET', '/api/reorder')).body;
    const first = orders[0]!;
    expect(await page('/reorder')).toContain('Make a purchase order');
    const items = first.lines.map(({ item }) => item).join(' ');
    const drafted = await send('/reorder/drafts', { supplier: first.supplier, items });
    const [address] = drafted.split('?');
    const code = address!.split('/').at(-1)!;
    expect(drafted).toBe(`/purchase-orders/${code}?said=drafted`);
    expect(await page('/reorder')).toContain(`Add to ${code}`);
    expect(await page(drafted)).toContain('It is written down as a draft');
    const { lines } = await order(code);
    const packs = Object.fromEntries(lines.map((line, row) => [`lines/${row}/packs`, String(line.packs + 1)]));
    expect(await send(`${address}/change`, { ...packs, freight: '6.50', note: 'Ring twice' })).toContain(
      'said=changed',
    );
    const changed = await order(code);
    expect(changed).toMatchObject({ freightE4: 65_000, note: 'Ring twice' });
    expect(changed.lines.map((line) => line.packs)).toEqual(lines.map((line) => line.packs + 1));
    expect(await send(`${address}/change`, { 'lines/0/packs': 'many' })).toMatch(/^422 .*cell-lines\/0\/packs-fault/s);
    expect(await send(`${address}/send`, { sentBy: 'email', sentOn: TODAY })).toContain('said=sent');
    expect(await send(`${address}/confirm`, { expectedOn: '' })).toMatch(/^422 .*confirm-expectedOn-fault/s);
    const confirm = {
      expectedOn: '2026-12-01',
      reference: 'X-1',
      freight: '6.50',
      'lines/0/packs': '1',
      'lines/0/later': '2026-12-08',
    };
    expect(await send(`${address}/confirm`, confirm)).toContain('said=confirmed');
    const confirmed = await order(code);
    expect(confirmed.deliveries.map(({ expectedOn }) => expectedOn)).toEqual(['2026-12-01', '2026-12-08']);
    expect(await page(address!)).toContain('Their lot');
    expect(await send(`${address}/receive`, { delivery: code })).toMatch(/^422 .*Write down how much came/s);
    expect(await send(`${address}/receive`, { delivery: 'NONE' })).toMatch(/^422/);
    const came = {
      delivery: code,
      rest: 'yes',
      'lines/0/quantity': '10',
      'lines/0/lot': 'S-9',
      'lines/0/expires': '2027-06-30',
    };
    expect(await send(`${address}/receive`, came)).toContain('said=received');
    expect((await order(code)).status).toBe('partly-received');
    expect(await send(`${address}/date`, { delivery: `${code}.2`, expectedOn: '2026-12-10' })).toContain('said=dated');
    expect(await send(`${address}/end`, { delivery: `${code}.2`, why: 'sold out' })).toContain('said=ended');
    expect(await send(`${address}/cancel`, { why: 'enough' })).toContain('said=cancelled');
    expect(await order(code)).toMatchObject({ status: 'received' });
    expect(await page('/purchase-orders')).toContain(code);
  });

  it('say why an item is on the list, and answer nonsense with 4xx', async () => {
    const { rows } = (await app.request<ReorderList>('GET', '/api/reorder')).body;
    for (const { item } of rows.slice(0, 5)) expect(await page(`/why/reorder/${item}`)).toContain('The arithmetic');
    expect((await app.request('GET', '/purchase-orders/PO26-9999', undefined, html)).status).toBe(404);
    expect(await send('/purchase-orders/PO26-9999/send', {})).toMatch(/^404/);
    expect(await send('/reorder/drafts', { supplier: 'NOBODY', items: '' })).toMatch(/^422/);
    expect(await send('/reorder/drafts', { supplier: 'NOBODY', items: 'FO-MOSS' })).toMatch(
      /^422 .*There is no supplier NOBODY\./s,
    );
    expect(await send('/reorder/drafts', { supplier: 'SALLOW', items: 'FO-MOSS' })).toMatch(
      /^409 .*Nothing has to be ordered from SALLOW now\./s,
    );
  });
});
