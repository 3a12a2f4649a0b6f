import { beforeAll, expect, it } from 'vitest';
import type { Committed } from '../../src/planning/planning.schema.js';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { pageText } from '../support/page-forms.js';

const seen = (html: string): string => html.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

interface For {
  lines: Set<string>;
  stock: number;
}

/** For which order lines a batch of a plan is, through whatever is made of it, and what part of it is for nobody. */
function forWhom({ batches }: Pick<Proposal, 'batches'>, key: string): For {
  const found: For = { lines: new Set(), stock: 0 };
  const walk = (of: string, share: number): void => {
    const batch = batches.find((one) => one.key === of)!;
    const whole = batch.madeFor.reduce((sum, { quantity }) => sum + quantity, 0);
    for (const { for: whom, key: to, quantity } of batch.madeFor) {
      const part = (share * quantity) / whole;
      if (whom === 'line') found.lines.add(to);
      else if (whom === 'batch') walk(to, part);
      else found.stock += part;
    }
  };
  walk(key, batches.find((one) => one.key === key)!.output);
  return found;
}

let app: TestApp;
let id: number;
let batches: Committed['batches'];

beforeAll(async () => {
  app = await startTestApp({ today: '2026-11-25', filled: DEMONSTRATION });
  id = (await app.request<{ id: number }>('POST', '/api/runs', { weekStart: '2026-11-30' })).body.id;
  batches = (await app.request<Committed>('POST', `/api/runs/${id}/commit`, {})).body.batches;
  return () => app.close();
});

it('what a batch is made for stays the same orders when its lots are set aside, whichever week makes the rest', async () => {
  const rows = await app.database.query<{ proposal: Proposal }>('select proposal from run where id = $1', [id]);
  const { proposal } = rows[0]!;
  const kept = await app.database.query<{ code: string; line: string | null; for: string | null; quantity: number }>(
    `select b.code, o.channel || '/' || o.number || '/' || l.shop_code || '#' || l.occurrence as line, fb.code as for,
       p.quantity
     from peg p join batch b on b.id = p.batch_id left join order_line l on l.id = p.order_line_id
       left join customer_order o on o.id = l.order_id left join batch fb on fb.id = p.for_batch_id`,
  );
  const keptFor = (code: string): For => {
    const found: For = { lines: new Set(), stock: 0 };
    const walk = (of: string, share: number): void => {
      const pegs = kept.filter((peg) => peg.code === of);
      const whole = pegs.reduce((sum, { quantity }) => sum + quantity, 0);
      for (const peg of pegs) {
        const part = (share * peg.quantity) / whole;
        if (peg.line !== null) found.lines.add(peg.line);
        else if (peg.for !== null) walk(peg.for, part);
        else found.stock += part;
      }
    };
    walk(
      code,
      kept.filter((peg) => peg.code === code).reduce((sum, { quantity }) => sum + quantity, 0),
    );
    return found;
  };
  let [throughLater, compared] = [0, 0];
  for (const { key, code } of batches) {
    const [planned, now] = [forWhom(proposal, key), keptFor(code)];
    expect([...now.lines].toSorted(), code).toEqual([...planned.lines].toSorted());
    expect(Math.abs(now.stock - planned.stock), code).toBeLessThan(planned.lines.size + 50);
    compared += planned.lines.size;
    const parts = proposal.batches.find((batch) => batch.key === key)!.madeFor;
    if (parts.some((part) => part.for === 'batch' && !batches.some((batch) => batch.key === part.key))) throughLater++;
  }
  expect([batches.length > 20, throughLater > 5, compared > 20]).toEqual([true, true, true]);
  // the mist's bottles are filled in a later week, for orders: so is the mist
  const mist = batches.find(({ item }) => item === 'BLK-MI-LAV')!;
  expect(seen(await pageText(app, `/batches/${mist.code}/record`))).toMatch(/Made for wholesale W-/);
  expect(seen(await pageText(app, `/why/batch/${id}/${encodeURIComponent(mist.code)}`))).toMatch(
    /Made for .* Order wholesale/,
  );
  expect(await app.database.violations()).toEqual([]);
});

it('the week says of a batch whose lot is put on hold that it is, and what to do', async () => {
  const [input] = await app.database.query<{ batch: string; lot: string }>(
    `select b.code as batch, l.code as lot from reservation r join lot l on l.id = r.lot_id
       join batch_input i on i.id = r.batch_input_id join batch b on b.id = i.batch_id
     where r.open > 0 and b.day between '2026-11-30' and '2026-12-06' order by r.id limit 1`,
  );
  const week = () => pageText(app, '/week/2026-11-30');
  const row = (page: string) =>
    [...page.matchAll(/<tr[\s\S]*?<\/tr>/g)].map(([one]) => seen(one)).find((one) => one.includes(input!.batch))!;
  expect(row(await week())).toContain('lots set aside');
  await app.request('POST', `/api/lots/${input!.lot}/status`, { to: 'held', why: 'smells odd' });
  expect(row(await week())).toContain(`on hold Decide about lot ${input!.lot}`);
  expect(row(await week())).not.toContain('lots set aside');
  expect(await app.database.violations()).toEqual([]);
});
