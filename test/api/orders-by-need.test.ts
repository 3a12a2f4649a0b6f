import { beforeAll, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { unescaped, wordsOf } from '../support/form-walk.js';

const app = useTestApp({ today: '2026-11-25', filled: DEMONSTRATION });
const PARTS = ['Late, short or not planned yet', 'To send', 'Waiting for payment', 'Sent or cancelled'];

interface Listed {
  part: string;
  said: number;
  path: string;
  text: string;
}

/** All orders, in the order in which one meets them from page to page. */
async function walked(query = ''): Promise<{ orders: Listed[]; pages: number }> {
  const orders: Listed[] = [];
  let pages = 0;
  for (let address: string | undefined = `/orders${query}`; address !== undefined; pages++) {
    const answer: { text: string; status: number } = await app.request('GET', address, undefined, {
      accept: 'text/html',
    });
    const { text, status } = answer;
    expect(status, address).toBe(200);
    for (const [, heading, said, table] of text.matchAll(/<h2>([^<]*): (\d+) orders?<\/h2>(.*?)<\/table>/gs))
      for (const [row, path = ''] of table!.matchAll(/<tr><th scope="row" class="whom"><a href="([^"]*)".*?<\/tr>/gs))
        orders.push({
          part: heading!,
          said: Number(said),
          path: decodeURIComponent(unescaped(path)),
          text: wordsOf(row),
        });
    const next: string | undefined = /<a class="button" href="([^"]*)">\s*More orders/.exec(text)?.[1];
    address = next === undefined ? undefined : unescaped(next);
  }
  return { orders, pages };
}

beforeAll(async () => {
  await app.request('POST', '/api/runs', {});
  await app.request('POST', '/api/orders', {
    channel: 'webshop',
    number: 'WAITS',
    paid: false,
    lines: [{ code: 'SP-FIG-100', quantity: 1 }],
  });
  // after the plan, so nobody planned it
  await app.request('POST', '/api/orders', {
    channel: 'webshop',
    number: 'UNPLANNED',
    paid: true,
    lines: [{ code: 'SP-FIG-100', quantity: 5000, shipBy: '2027-02-01' }],
  });
  for (const number of ['GONE-1', 'GONE-2']) {
    await app.request('POST', '/api/orders', {
      channel: 'webshop',
      number,
      paid: true,
      lines: [{ code: 'SP-FIG-100', quantity: 1 }],
    });
    await app.request('POST', `/api/orders/webshop/${number}/cancel`, {});
  }
});

describe('the list of orders', () => {
  it('has each order once, the troubled first, and in each part the one that must go first', async () => {
    const rows = await app.database.query<{ path: string; status: string; due: string | null; id: number }>(
      `select '/orders/' || o.channel || '/' || o.number as path, o.status, o.id::int,
         (select min(l.ship_by)::text from order_line l
          where l.order_id = o.id and l.quantity > l.shipped + l.cancelled) as due
       from customer_order o`,
    );
    const known = new Map(rows.map((row) => [row.path, row]));
    const { orders, pages } = await walked();
    expect(pages).toBeGreaterThan(1);
    expect(orders.map(({ path }) => path).toSorted()).toEqual([...known.keys()].toSorted());
    expect([...new Set(orders.map(({ part }) => part))]).toEqual(PARTS);
    for (const part of PARTS) {
      const own = orders.filter((order) => order.part === part);
      expect(new Set(own.map(({ said }) => said)), part).toEqual(new Set([own.length]));
      const dues = own.map(({ path }) => known.get(path)!.due ?? '9999');
      expect(dues, part).toEqual(dues.toSorted());
    }
    const done = orders.filter(({ part }) => part === PARTS[3]).map(({ path }) => known.get(path)!.id);
    expect(done).toEqual(done.toSorted((a, b) => b - a));
    const states = (part: number) => [
      ...new Set(orders.filter((order) => order.part === PARTS[part]).map(({ path }) => known.get(path)!.status)),
    ];
    expect([states(0), states(1), states(2)]).toEqual([['confirmed'], ['confirmed'], ['waiting']]);
  });

  it('says of each troubled order what the trouble is, and of no other', async () => {
    const { orders } = await walked();
    const isTold = ({ text }: Listed) => /days? late|not covered|not planned yet|its day is over/.test(text);
    const troubled = orders.filter(({ part }) => part === PARTS[0]);
    expect(troubled.map(({ path }) => path)).toContain('/orders/webshop/UNPLANNED');
    expect(troubled.filter((order) => !isTold(order))).toEqual([]);
    expect(orders.filter(({ part }) => part === PARTS[1]).filter(isTold)).toEqual([]);
  });

  it('keeps its order and its counts under a filter', async () => {
    const { orders } = await walked('?channel=webshop&status=confirmed');
    const all = await walked();
    const own = all.orders.filter(({ path, part }) => path.startsWith('/orders/webshop/') && PARTS.indexOf(part) < 2);
    expect(orders.map(({ path }) => path)).toEqual(own.map(({ path }) => path));
    expect(orders[0]!.said).toBe(own.filter(({ part }) => part === PARTS[0]).length);
  });
});
