import { beforeAll, describe, expect, it } from 'vitest';
import { lotCodeOfScan } from '../../src/trace/complaints.js';
import type { ComplaintPage, ComplaintView, SuspicionView } from '../../src/trace/complaint.schema.js';
import type { SharesView } from '../../src/trace/trace.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { jpeg } from '../support/pictures.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';

const app = useTestApp();
const shelf = shelfOf(app);

/** Six candle lots; the first two hold oil OIL-BAD, all hold the same wax. */
beforeAll(async () => {
  const shop = new TracedShop(app.database);
  await shop.open();
  await shop.buy('WAX', 'WAX-1', 1_000_000);
  await shop.buy('OIL', 'OIL-BAD', 100_000);
  await shop.buy('OIL', 'OIL-OK', 100_000);
  await shop.buy('JAR', 'JARS', 1_000);
  for (let n = 1; n <= 6; n++) {
    await shop.make(
      'POUR',
      `POUR-${n}`,
      [
        ['WAX-1', 10_000],
        [n <= 2 ? 'OIL-BAD' : 'OIL-OK', 1_000],
      ],
      11_000,
    );
    await shop.make(
      'CANDLE',
      `CAN-${n}`,
      [
        [`POUR-${n}`, 10_000],
        ['JARS', 50],
      ],
      50,
    );
    await shop.order(`N${n}`, `Customer ${n}`, 20, [[`CAN-${n}`, 5]]);
  }
});

const complain = (body: Record<string, unknown>) =>
  shelf.done<ComplaintView>('/api/complaints', { description: 'smells burnt', harm: 'none', ...body });
const add = (code: string, body: Record<string, unknown>) =>
  shelf.done<ComplaintView>(`/api/complaints/${code}/entries`, body);

describe('a complaint', () => {
  it('is about a lot, an order, or as yet nothing but a description and a day', async () => {
    const typed = await complain({ lot: 'can-1' });
    expect(typed).toMatchObject({ status: 'open', lots: ['CAN-1'], isLotKnown: true, dueOn: '2026-03-09', urges: [] });
    const ordered = await complain({ order: { channel: 'shop', number: 'N2' } });
    expect(ordered).toMatchObject({ lots: ['CAN-2'], isLotKnown: false, orders: ['shop/N2'] });
    const vague = await complain({ happenedOn: '2026-02-20', item: 'CANDLE' });
    expect(vague).toMatchObject({ lots: [], isLotKnown: false, item: 'CANDLE' });
    const found = await add(vague.code, { kind: 'lot', lot: 'https://shop.example.org/shelf/lots/CAN-3' });
    expect(found).toMatchObject({ lots: ['CAN-3'], isLotKnown: true });
    expect(found.entries).toEqual([expect.objectContaining({ kind: 'lot', lot: 'CAN-3', by: 'workshop' })]);
  });

  it.each([
    ['26041-001', '26041-001'],
    [' 26041-001 ', '26041-001'],
    ['https://shop.example.org/shelf/lots/26041-001', '26041-001'],
    ['https://id.gs1.org/01/09506000134352/10/ABC123?17=260731', 'ABC123'],
    ['(01)09506000134352(17)261130(10)L2311A(21)0007', 'L2311A'],
    [']d201095060001343521726113010L2311A\u001d210007', 'L2311A'],
  ])('reads the lot of what was typed or scanned: %s', (text, code) => expect(lotCodeOfScan(text)).toBe(code));

  it('urges caution first where somebody or something was harmed, and leaves the law to the authority', async () => {
    const skin = await complain({ lot: 'CAN-1', harm: 'skin' });
    expect(skin).toMatchObject({ harmed: 'person', dueOn: '2026-03-03' });
    expect(skin.urges[0]).toContain('skin reaction');
    expect(skin.urges.join(' ')).toMatch(/Hold what is left.*Seek advice.*local authority/);
    for (const harm of ['fire', 'glass', 'other'])
      expect((await complain({ harm, harmed: 'property' })).urges.length).toBeGreaterThan(2);
  });

  it('is answered, put off, closed with its outcome, and taken up again', async () => {
    const { code } = await complain({ lot: 'CAN-4', reportedOn: '2026-02-10' });
    expect((await shelf.get<ComplaintView>(`/api/complaints/${code}`)).isOverdue).toBe(true);
    expect(await add(code, { kind: 'due', dueOn: '2026-03-30' })).toMatchObject({
      dueOn: '2026-03-30',
      isOverdue: false,
    });
    await add(code, { kind: 'answer', text: 'We send another.' });
    expect((await add(code, { kind: 'closed', text: 'Replaced; the wick was off centre.' })).status).toBe('closed');
    expect(await shelf.refused(`/api/complaints/${code}/entries`, { kind: 'closed', text: 'again' })).toBe(
      '409 wrong-state',
    );
    expect((await add(code, { kind: 'reopened', text: 'It happened again.' })).status).toBe('open');
    const page = await shelf.get<ComplaintPage>('/api/complaints?status=open&limit=2');
    expect(page.complaints).toHaveLength(2);
    expect(page.next).toBe(page.complaints[1]!.code);
  });

  it('keeps photos once each, without what the camera wrote', async () => {
    const { code } = await complain({ lot: 'CAN-1' });
    const picture = jpeg();
    const send = () =>
      app.request<{ id: number }>('POST', `/api/complaints/${code}/photos`, picture, { 'content-type': 'image/jpeg' });
    const first = await send();
    expect(first.status, first.text).toBe(201);
    expect((await send()).body.id).toBe(first.body.id);
    expect((await shelf.get<ComplaintView>(`/api/complaints/${code}`)).photos).toHaveLength(1);
    const shown = await app.request('GET', `/api/complaint-photos/${first.body.id}`);
    expect(shown).toMatchObject({ status: 200, headers: { 'content-type': 'image/jpeg' } });
    const text = await app.request('POST', `/api/complaints/${code}/photos`, 'text', { 'content-type': 'image/jpeg' });
    expect(text.status).toBe(415);
  });

  it('is refused with a pointer', async () => {
    expect(await shelf.refused('/api/complaints', { description: 'x', harm: 'none', lot: 'NO-SUCH' })).toBe(
      '422 unknown-lot',
    );
    expect(
      await shelf.refused('/api/complaints', {
        description: 'x',
        harm: 'none',
        order: { channel: 'shop', number: 'Z' },
      }),
    ).toBe('422 unknown-order');
    expect(
      (await shelf.post('/api/complaints', { description: 'x', harm: 'skin', harmed: 'nobody' })).body.errors,
    ).toEqual([expect.objectContaining({ pointer: '/harmed' })]);
    expect((await app.request('GET', '/api/complaints/C99-999')).status).toBe(404);
    const body = {
      reportedOn: '2026-03-01',
      happenedOn: '2026-02-28',
      description: 'x',
      harm: 'skin',
      harmed: 'both',
      reporter: 'R',
      contact: 'c',
    };
    expect(await faultsOnBadInput(app, 'POST', '/api/complaints', body)).toEqual([]);
  }, 60_000);
});

describe('suspicion', () => {
  it('falls on what complained lots share and few others have', async () => {
    const two = [await complain({ lot: 'CAN-1' }), await complain({ lot: 'CAN-2', reportedOn: '2026-03-01' })].map(
      ({ code }) => code,
    );
    const view = await shelf.get<SuspicionView>(`/api/trace/suspicion?complaints=${two.join(',')}`);
    expect(view).toMatchObject({ lotsComplained: 2, lotsSold: 6, isWhole: true, withoutLot: [] });
    const [oil] = view.suspects.filter(({ kind }) => kind === 'lot');
    // both of the two lots with it, out of six: one way in 15
    expect(oil).toMatchObject({ code: 'OIL-BAD', complaints: two, lotsHit: 2, lotsIn: 2 });
    expect(oil!.chance).toBeCloseTo(1 / 15, 10);
    const wax = view.suspects.find(({ code }) => code === 'WAX-1')!;
    expect(wax).toMatchObject({ lotsHit: 2, lotsIn: 6, chance: 1 });
    expect(view.suspects[0]!.chance).toBeCloseTo(1 / 15, 10);
    expect(view.suspects.find(({ code }) => code === 'CAN-1')!.complaints).toEqual([two[0]]);
  });

  it('names complaints whose lot nobody knows, and complaints that are not there', async () => {
    const { code } = await complain({});
    const view = await shelf.get<SuspicionView>(`/api/trace/suspicion?complaints=${code}`);
    expect(view).toMatchObject({ withoutLot: [code], suspects: [] });
    expect((await app.request('GET', '/api/trace/suspicion?complaints=C99-999')).status).toBe(404);
    expect((await shelf.get<SuspicionView>('/api/trace/suspicion')).complaints).toContain(code);
  });
});

describe('what else shares', () => {
  it('the material, the pour day and the vessel is told, with how many', async () => {
    const { shares } = await shelf.get<SharesView>('/api/trace/lots/CAN-1/shares');
    const of = (by: string, what: string) => shares.find((group) => group.by === by && group.what === what);
    expect(
      of('material', 'OIL-BAD')!
        .lots.map(({ code }) => code)
        .sort(),
    ).toEqual(['CAN-2', 'POUR-2']);
    expect(of('material', 'WAX-1')!.count).toBe(10);
    expect(of('vessel', 'JUG')!.count).toBe(10);
    expect(of('day', '2026-02-02')!.count).toBe(10);
    expect(of('person', 'test')!.count).toBe(10);
    const bought = (await shelf.get<SharesView>('/api/trace/lots/OIL-BAD/shares')).shares;
    expect(bought.find(({ by }) => by === 'material')!.count).toBe(4);
  });
});
