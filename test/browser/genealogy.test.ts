import { describe, expect, it } from 'vitest';
import { GenealogyGraph } from '../../src/pages/complaints/genealogy-graph.js';
import type { LotStatus } from '../../src/stock/stock.entity.js';
import type { TraceView } from '../../src/trace/trace.schema.js';
import { expectSound, useBrowser, WIDTHS } from '../support/browser.js';

const app = useBrowser({ demo: false });
const SCENTS = ['FIG', 'CEDAR', 'PLUM', 'FERN', 'BIRCH', 'QUINCE'];
const POURS = 60;
const ORDERS = 248;

/** One lot of fragrance and what else goes in, poured, filled and sent: 500 boxes if each had its own. */
function largeTrace(): TraceView {
  const lot = (
    code: string,
    item: string,
    kind: TraceView['lots'][number]['kind'],
    status: LotStatus = 'released',
  ) => ({
    code,
    item,
    name: item,
    kind,
    status,
    measure: 'weighed' as const,
    family: 'other' as const,
    onHand: 0,
    reserved: 0,
    place: '',
    cameOn: '2026-01-05',
    expiresOn: null,
    supplier: null,
    supplierLot: '',
    certificate: '',
    parentLot: null,
    layer: 0,
  });
  const pours = Array.from({ length: POURS }, (_, n) => ({ n, scent: SCENTS[n % SCENTS.length]! }));
  const batch = (code: string, item: string) => ({
    code,
    item,
    day: '2026-02-02',
    vessel: 'POT',
    status: 'released',
    isRework: false,
    made: 1,
    putInMg: 1,
    lossMg: 0,
    layer: 0,
  });
  const view: TraceView = { lot: 'FRAGRANCE', direction: 'both', isWhole: true } as TraceView;
  const materials = Array.from({ length: 10 }, (_, n) => lot(`M-${n}`, 'ETHANOL', 'material'));
  view.lots = [
    lot('FRAGRANCE', 'FO-FIG', 'material'),
    ...materials,
    ...pours.map(({ n, scent }) => lot(`BULK-${n}`, `BLK-SP-${scent}`, 'bulk')),
    ...pours.map(({ n, scent }) => ({
      ...lot(`SPRAY-${n}`, `SP-${scent}-100`, 'product'),
      measure: 'counted' as const,
      status: n === 7 ? ('held' as const) : ('released' as const),
    })),
  ];
  view.batches = pours.flatMap(({ n, scent }) => [
    batch(`POUR-${n}`, `BLK-SP-${scent}`),
    batch(`FILL-${n}`, `SP-${scent}-100`),
  ]);
  view.deliveries = [{ code: 'D1', supplier: 'BRINDLE', lot: 'FRAGRANCE', receivedOn: '2026-01-05', quantity: 1 }];
  view.parcels = Array.from({ length: ORDERS }, (_, n) => ({
    lot: `SPRAY-${n % POURS}`,
    item: 'SP',
    channel: 'webshop',
    number: `N-${n}`,
    customer: `Customer ${n}`,
    shipment: n,
    shippedOn: '2026-03-02',
    quantity: 2,
    returned: 0,
  }));
  view.links = [
    { from: 'delivery:D1', to: 'lot:FRAGRANCE', kind: 'received', quantity: 9_000_000 },
    ...pours.flatMap(({ n }): TraceView['links'] => [
      { from: 'lot:FRAGRANCE', to: `batch:POUR-${n}`, kind: 'used', quantity: 100_000 },
      { from: `lot:M-${n % 10}`, to: `batch:POUR-${n}`, kind: 'used', quantity: 900_000 },
      { from: `batch:POUR-${n}`, to: `lot:BULK-${n}`, kind: 'made', quantity: 1_000_000 },
      { from: `lot:BULK-${n}`, to: `batch:FILL-${n}`, kind: 'used', quantity: 1_000_000 },
      { from: `batch:FILL-${n}`, to: `lot:SPRAY-${n}`, kind: 'made', quantity: 10 },
    ]),
    ...view.parcels.map(({ lot: from, number }) => ({
      from: `lot:${from}`,
      to: `order:webshop/${number}`,
      kind: 'shipped' as const,
      quantity: 2,
    })),
  ];
  return view;
}

describe('the picture of 500 lots, batches and orders', () => {
  it.each(WIDTHS)('is folded until it can be read, within a second, at %i px', async (width) => {
    const trace = largeTrace();
    const boxes = trace.lots.length + trace.batches.length + trace.deliveries.length + trace.parcels.length;
    expect(boxes).toBe(500);
    // of its own work: others may be at work on the same processors
    const begun = process.cpuUsage();
    const picture = await GenealogyGraph({ trace });
    const { user, system } = process.cpuUsage(begun);
    const tookMs = (user + system) / 1000;
    process.stdout.write(`500 boxes folded, laid out and drawn in ${Math.round(tookMs)} ms\n`);
    expect(tookMs).toBeLessThan(1000);

    const page = await app.open('/complaints', { width });
    await page.evaluate((html) => {
      const { document } = globalThis as unknown as {
        document: { querySelector(what: string): { innerHTML: string } };
      };
      document.querySelector('main').innerHTML = `<h1>Trace</h1>${html}`;
    }, picture);
    const drawn = await page.locator('.genealogy svg .box').evaluateAll((rects) =>
      rects.map((rect) => {
        const { x, y, width: across, height } = (rect as unknown as { getBBox(): Box }).getBBox();
        const texts = [
          ...(rect.parentNode as unknown as { querySelectorAll(what: string): Iterable<Text> }).querySelectorAll(
            'text',
          ),
        ];
        return {
          at: { x, y, width: across, height },
          widest: Math.max(...texts.map((text) => text.getComputedTextLength())),
        };
      }),
    );
    expect(drawn.length).toBeGreaterThan(15);
    expect(drawn.length).toBeLessThanOrEqual(32);
    for (const { at, widest } of drawn) expect(widest).toBeLessThanOrEqual(at.width);
    for (const [n, { at: one }] of drawn.entries())
      for (const { at: other } of drawn.slice(n + 1))
        expect(
          one.x + one.width <= other.x ||
            other.x + other.width <= one.x ||
            one.y + one.height <= other.y ||
            other.y + other.height <= one.y,
        ).toBe(true);
    const text = await page.locator('.genealogy svg').textContent();
    // what must not be used, and the lot in question, are never folded among others
    expect(text).toMatch(/SPRAY-7.*on hold/s);
    expect(text).toContain('FRAGRANCE');
    expect(text).toContain('248 orders');
    await expectSound(page);
  });
});

interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

interface Text {
  getComputedTextLength(): number;
}
