import { beforeAll, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { wordsOf } from '../support/form-walk.js';

const app = useTestApp({ today: '2026-11-25', filled: DEMONSTRATION });
const BROWSER = { accept: 'text/html' };
const look = (text: string) =>
  app.request('GET', `/find?${new URLSearchParams({ q: text }).toString()}`, undefined, BROWSER);

let bought: string;
let complaint: string;
let customer: { id: number; name: string };
beforeAll(async () => {
  const made = await app.request<{ code: string }>('POST', '/api/purchase-orders', {
    supplier: 'BRINDLE',
    lines: [{ pack: 'AMBER-1LB', packs: 2 }],
  });
  bought = made.body.code;
  const said = await app.request<{ code: string }>('POST', '/api/complaints', {
    description: 'It smells odd',
    harm: 'none',
    reporter: 'Quarry Visitor',
  });
  complaint = said.body.code;
  [customer] = (await app.database.query<{ id: number; name: string }>(
    'select id::int, name from customer order by id limit 1',
  )) as [{ id: number; name: string }];
});

describe('what is looked for by its code or name', () => {
  it.each<[string, () => [text: string, address: string]]>([
    ['a purchase order', () => [bought.toLowerCase(), `/purchase-orders/${bought}`]],
    ['a supplier', () => ['brindle', '/suppliers#BRINDLE']],
    ['a complaint', () => [complaint.toLowerCase(), `/complaints/${complaint}`]],
    ['a customer', () => [customer.name.toUpperCase(), `/customers/${customer.id}`]],
  ])('leads to the page of %s', async (_, of) => {
    const [text, address] = of();
    const answer = await look(text);
    expect([answer.status, answer.headers['location']]).toEqual([302, address]);
    const page = await app.request('GET', address.split('#')[0]!, undefined, BROWSER);
    expect(page.status).toBe(200);
    const [, place] = address.split('#');
    if (place !== undefined) expect(page.text).toContain(`id="${place}"`);
  });

  it('leads to a vessel where vessels are said, with that one marked', async () => {
    const [vessel] = await app.database.query<{ code: string }>('select code from vessel order by id limit 1');
    const answer = await look(vessel!.code.toLowerCase());
    expect(answer.headers['location']).toBe(`/start?vessel=${vessel!.code}#vessels`);
    const page = await app.request('GET', `/start?vessel=${vessel!.code}`, undefined, BROWSER);
    expect(page.text).toMatch(new RegExp(`<li id="vessels"><details open.*<strong>${vessel!.code}</strong>`, 's'));
  });

  it.each<[string, () => [text: string, kind: string, code: string]]>([
    ['purchase orders by a part of their code', () => [bought.slice(0, -1), 'Purchase order', bought]],
    ['suppliers by a part of their code', () => ['RINDL', 'Supplier', 'BRINDLE']],
    ['complaints by who reported them', () => ['quarry vis', 'Complaint', complaint]],
    ['customers by a part of their name', () => [customer.name.slice(0, -1), 'Customer', customer.name]],
  ])('shows %s', async (_, of) => {
    const [text, kind, code] = of();
    const { status, text: html } = await look(text);
    expect(status).toBe(200);
    const rows = [...html.matchAll(/<tr>.*?<\/tr>/gs)].map(([row]) => wordsOf(row).trim());
    expect(rows.filter((row) => row.startsWith(`${code} ${kind}`))).toHaveLength(1);
  });
});
