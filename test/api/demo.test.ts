import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { FormulaView } from '../../src/catalog/formulas.schema.js';
import type { ItemPage, ItemView } from '../../src/catalog/items.schema.js';
import type { WorkshopView } from '../../src/catalog/workshop.schema.js';
import { DemoService } from '../../src/demo/demo.service.js';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { DeliveryPage, PackView } from '../../src/purchasing/purchasing.schema.js';
import type { LotPage } from '../../src/stock/stock.schema.js';
import type { TestApp } from '../support/app.js';
import { startTestApp } from '../support/app.js';

interface Run {
  id: number;
  weekStart: string;
  proposal: Proposal;
}

interface Demo {
  app: TestApp;
  run: Run;
}

/** The demonstration as it is on this day, and the plan of its coming week. */
async function demoOn(today: string): Promise<Demo> {
  const app = await startTestApp({ today });
  expect(await app.app.get(DemoService).load(today, 'demo')).toBe(true);
  const { status, body, text } = await app.request<Run>('POST', '/api/runs', {});
  expect(status, text).toBe(201);
  return { app, run: body };
}

// a Monday, the other days of a week, a leap day, the last day of a year
const DAYS = ['2026-03-02', '2026-03-04', '2026-03-07', '2026-03-08', '2028-02-29', '2026-12-31'];

describe.each(DAYS)('the demonstration on %s', (today) => {
  let demo: Demo;
  let proposal: Proposal;
  beforeAll(async () => {
    demo = await demoOn(today);
    proposal = demo.run.proposal;
  });
  afterAll(() => demo.app.close());

  it('shows a full week of pours', () => {
    const open = proposal.days.filter((day) => day.minutesOpen > 0);
    expect(open).toHaveLength(5);
    const [used, minutes] = [sum(open.map((day) => day.minutesUsed)), sum(open.map((day) => day.minutesOpen))];
    expect(used / minutes).toBeGreaterThan(0.8);
    for (const { day } of open)
      expect(
        proposal.batches.some((batch) => batch.day === day && /^(BASE|BLK)-/.test(batch.item)),
        day,
      ).toBe(true);
  });

  it('shows two lots of one fragrance with different dates split over one batch', async () => {
    const input = proposal.batches
      .flatMap((batch) => batch.inputs)
      .find(({ item, taken }) => item === 'FO-CITRUS' && taken.length > 1)!;
    expect(input.taken.map(({ from }) => from)).toEqual(['lot', 'lot']);
    const { body } = await demo.app.request<LotPage>('GET', '/api/lots?item=FO-CITRUS');
    const dateOf = new Map(body.lots.map((lot) => [lot.code, lot.expiresOn!]));
    const [first, second] = input.taken.map(({ key }) => dateOf.get(key)!);
    expect(first! < second!).toBe(true);
    // the one that goes first is used up
    expect(input.taken[0]!.quantity).toBe(body.lots.find(({ code }) => code === input.taken[0]!.key)!.free);
  });

  it('shows a shortfall, the last day to order for it that is still to come, and whom it hurts', () => {
    const moss = proposal.shortfalls.find(({ item }) => item === 'FO-MOSS')!;
    expect(moss.quantity).toBeGreaterThan(0);
    expect(moss.tooLate).toBe(false);
    expect(moss.orderBy! >= today).toBe(true);
    expect(moss.packs.length).toBeGreaterThan(0);
    expect(moss.hurts.lines).toEqual(['wholesale/W-2302/DI-MOSS-100#1']);
  });

  it('shows a lot at risk with what it is worth', () => {
    const rose = proposal.atRisk.find(({ item }) => item === 'FO-ROSE')!;
    expect(rose.left).toBeGreaterThan(1_000_000);
    expect(rose.valueE4).toBeGreaterThan(1_000_000);
    expect(rose.usableIn).toEqual(['BLK-MI-ROSE']);
  });

  it('shows an order that cannot be in time because of the rest', () => {
    const amber = proposal.lines.find(({ key }) => key === 'wholesale/W-2301/SP-AMBER-100#1')!;
    expect(amber.because).toBe('rest');
    expect(amber.lateDays).toBeGreaterThan(0);
  });

  it('has nearly every other order in time', () => {
    const late = proposal.lines.filter((line) => line.missing > 0 || line.lateDays > 0);
    expect(proposal.lines.length).toBeGreaterThan(100);
    expect(late.length).toBeLessThan(proposal.lines.length / 20);
  });
});

describe('the demonstration', () => {
  let demo: Demo;
  let items: ItemView[];
  const today = '2026-03-02';
  beforeAll(async () => {
    demo = await demoOn(today);
    items = (await demo.app.request<ItemPage>('GET', '/api/items?limit=1000')).body.items;
  });
  afterAll(() => demo.app.close());

  it('is a whole workshop', async () => {
    const get = async <Body>(url: string) => (await demo.app.request<Body>('GET', url)).body;
    const count = (kind: string, code = '') => items.filter((item) => item.kind === kind && item.code.startsWith(code));
    expect(count('material', 'FO-')).toHaveLength(14);
    expect(count('material').length).toBeGreaterThan(40);
    expect(count('bulk', 'BASE-')).toHaveLength(4);
    expect(count('bulk').length).toBeGreaterThan(13);
    expect(count('product').length).toBeGreaterThanOrEqual(24);
    expect(count('set')).toHaveLength(1);
    const { packs } = await get<{ packs: PackView[] }>('/api/packs');
    const bought = count('material').filter((item) => item.stocked);
    expect(bought.filter(({ code }) => !packs.some(({ item }) => item === code))).toEqual([]);
    const [orders] = await demo.app.database.query<{ orders: number; channels: number; days: number }>(
      `select count(distinct o.id)::int as orders, count(distinct channel)::int as channels,
         max(ship_by) - min(ship_by) as days from customer_order o join order_line l on l.order_id = o.id`,
    );
    expect(orders!.orders).toBeGreaterThanOrEqual(60);
    expect(orders).toMatchObject({ channels: 3, days: 19 });
    expect((await get<DeliveryPage>('/api/deliveries?status=expected')).deliveries).toHaveLength(2);
    const ages = (await get<LotPage>('/api/lots?limit=1000')).lots.map(({ cameOn }) => cameOn);
    expect(new Set(ages).size).toBeGreaterThan(20);
    expect(await get<WorkshopView>('/api/workshop')).toMatchObject({ name: 'Quarry Lane Workshop', isDemo: true });
  });

  it('says the usual cautions where alcohol, hot wax and lye are handled', async () => {
    const stepsOf = async (code: string) => {
      const { body } = await demo.app.request<{ formulas: { id: number }[] }>('GET', `/api/items/${code}/formulas`);
      const formula = await demo.app.request<FormulaView>('GET', `/api/formulas/${body.formulas[0]!.id}`);
      return formula.body.steps.map(({ instruction }) => instruction).join(' ');
    };
    expect(await stepsOf('BASE-SPRAY')).toMatch(/no flame.*rules of your place/is);
    expect(await stepsOf('BLK-CA-FIG')).toMatch(/hot wax burns.*never.*rules of your place/is);
    expect(await stepsOf('BLK-SO-OAT')).toMatch(/goggles, gloves.*never the water into the lye.*no aluminium/is);
    for (const { code } of items.filter((item) => item.kind === 'bulk' && item.flammable))
      expect(await stepsOf(code), code).toMatch(/no flame/i);
  });

  it('is loaded once only, and never over data that is there', async () => {
    expect(await demo.app.app.get(DemoService).load(today, 'demo')).toBe(false);
    const app = await startTestApp({ today });
    await app.request('POST', '/api/items', { code: 'MINE', name: 'Mine', kind: 'material', measure: 'counted' });
    expect(await app.app.get(DemoService).load(today, 'demo')).toBe(false);
    expect((await app.request<ItemPage>('GET', '/api/items')).body.items).toHaveLength(1);
    await app.close();
  });

  it('is the same for the same day', async () => {
    const twin = await demoOn(today);
    expect(twin.run.proposal).toEqual(demo.run.proposal);
    await twin.app.close();
  });

  it('can be committed, and then both lots are reserved', async () => {
    const { status, text } = await demo.app.request('POST', `/api/runs/${demo.run.id}/commit`);
    expect(status, text).toBeLessThan(300);
    const { body } = await demo.app.request<LotPage>('GET', '/api/lots?item=FO-CITRUS');
    expect(body.lots.map(({ free }) => free === 0)).toEqual([true, false]);
    expect(body.lots.every(({ reserved }) => reserved > 0)).toBe(true);
    expect(await demo.app.database.violations()).toEqual([]);
  });
});

function sum(numbers: readonly number[]): number {
  return numbers.reduce((total, number) => total + number, 0);
}
