import { readdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { Ajv } from 'ajv';
import addFormats from 'ajv-formats';
import { describe, expect, it } from 'vitest';
import { ownGtin, tradeIdOf } from '../../src/kernel/trace/gs1.js';
import type { EpcisDocument } from '../../src/trace/epcis-document.js';
import type { AnnouncedView } from '../../src/trace/epcis.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { startTestApp, useTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { writeGenealogy } from '../support/genealogy.js';
import { shelfOf } from '../support/shelf.js';

const DATA = join(import.meta.dirname, '../data/epcis');
const read = (path: string): object => JSON.parse(readFileSync(join(DATA, path), 'utf8')) as object;
const files = (folder: string) => readdirSync(join(DATA, folder)).sort();

/** A general library for EPCIS 2.0, that knows nothing of ours. */
const library = createRequire(import.meta.url)('epcis2.js') as {
  EPCISDocument: new (source: object) => { getEventList(): LibraryEvent[] | undefined; isValid(): boolean };
  buildDigitalLinkFromEpc?: unknown;
};
interface LibraryEvent {
  getType(): string;
  getInputQuantityList?(): { getEpcClass(): string; getQuantity(): number }[];
  getOutputQuantityList?(): { getEpcClass(): string; getQuantity(): number }[];
}

const ajv = new Ajv({ strict: false, allErrors: true });
addFormats.default(ajv);
const validate = ajv.compile(read('epcis-document.schema.json'));

/** What the published schema has against a document; nothing, if it is valid. */
const faults = (document: object) =>
  validate(document) ? [] : validate.errors!.map(({ instancePath, message }) => `${instancePath} ${message}`);

const documentOf = async (app: TestApp, code: string, query = ''): Promise<EpcisDocument> => {
  const answer = await app.request<EpcisDocument>('GET', `/api/trace/lots/${code}/epcis${query}`);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

describe('the schema', () => {
  it('takes what the standard shows and nothing that is known to be wrong', () => {
    for (const file of files('valid')) expect([file, faults(read(`valid/${file}`))]).toEqual([file, []]);
    for (const file of files('invalid'))
      expect([file, faults(read(`invalid/${file}`)).length > 0]).toEqual([file, true]);
  });
});

describe('the events of a random workshop', () => {
  it('are valid by the published schema, read by a general library, and tell the same genealogy', async () => {
    const app = await startTestApp();
    try {
      const known = await writeGenealogy(app.database, 5, 300);
      await app.database.query(`insert into workshop (name) values ('Sauces & Söhne') on conflict do nothing`);
      // half of the items have a trade number
      await app.database.query(
        `insert into trade_item (gtin, item_id)
         select u.gtin, i.id from unnest($1::text[], $2::text[]) as u (gtin, code) join item i on i.code = u.code`,
        [[1, 2, 3].map((n) => ownGtin('0614141', n)), ['BOTTLED', 'BULK', 'OIL-A']],
      );
      const types = new Set<string>();
      for (const { code, comesOf } of known.lots.values()) {
        const document = await documentOf(app, code, '?direction=both');
        expect(faults(document)).toEqual([]);
        const readBack = new library.EPCISDocument(document);
        expect(readBack.isValid()).toBe(true);
        const events = readBack.getEventList() ?? [];
        expect(events).toHaveLength(document.epcisBody.eventList.length);
        for (const event of events) types.add(event.getType());
        expect(sourcesIn(events, code)).toEqual([...comesOf].sort());
      }
      expect([...types].sort()).toEqual(['AggregationEvent', 'ObjectEvent', 'TransformationEvent']);
      const ids = await eventIds(app, [...known.lots.keys()]);
      expect(new Set(ids).size).toBe(ids.length);
    } finally {
      await app.close();
    }
  }, 180_000);
});

/** The code of a lot by its identifier, a link or a name of ours. */
const codeOf = (epcClass: string) => tradeIdOf(epcClass)?.lot ?? decodeURIComponent(epcClass.split(':').at(-1)!);

/** What a lot comes of by the transformations alone, as anybody who got the document would follow them. */
function sourcesIn(events: readonly LibraryEvent[], code: string): string[] {
  const steps = events
    .filter((event) => event.getType() === 'TransformationEvent')
    .map((event) => ({
      from: (event.getInputQuantityList?.() ?? []).map((of) => codeOf(of.getEpcClass())),
      to: (event.getOutputQuantityList?.() ?? []).map((of) => codeOf(of.getEpcClass())),
    }));
  const found = new Set([code]);
  for (const lot of found)
    for (const { from, to } of steps) if (to.includes(lot)) for (const source of from) found.add(source);
  return [...found].sort();
}

async function eventIds(app: TestApp, lots: readonly string[]): Promise<string[]> {
  const ids = new Set<string>();
  const seen: string[] = [];
  for (const lot of lots)
    for (const event of (await documentOf(app, lot)).epcisBody.eventList) {
      const key = `${event.eventID} ${JSON.stringify(event)}`;
      if (!ids.has(key)) seen.push(event.eventID);
      ids.add(key);
    }
  return seen;
}

describe("a supplier's document", () => {
  const api = useTestApp();
  const shelf = shelfOf(api);
  let serial = 0;

  /** An expected delivery of these items, each with the trade number it is sold under. */
  async function expected(lines: { gtin: string; measure: string; quantity: number; densityUgPerMl?: number }[]) {
    const n = ++serial;
    const supplier = `SUP-${n}`;
    await shelf.done('/api/suppliers', { code: supplier, name: supplier });
    for (const [at, { gtin, measure }] of lines.entries()) {
      await shelf.item(`X${n}-${at}`, { measure });
      await api.database.query(
        `insert into trade_item (gtin, item_id, supplier_id) select $1, i.id, s.id from item i, supplier s
         where i.code = $2 and s.code = $3 on conflict (gtin) do update set item_id = excluded.item_id, supplier_id = excluded.supplier_id`,
        [gtin, `X${n}-${at}`, supplier],
      );
    }
    await shelf.done('/api/deliveries', {
      code: `D-${n}`,
      supplier,
      expectedOn: '2026-03-09',
      lines: lines.map(({ quantity }, at) => ({ item: `X${n}-${at}`, quantity })),
    });
    return { delivery: `D-${n}`, item: (at: number) => `X${n}-${at}`, url: `/api/deliveries/D-${n}/announced` };
  }

  it("is read as the standard's own examples are written", async () => {
    const found: Record<string, unknown> = {};
    for (const file of files('valid')) {
      const document = read(`valid/${file}`);
      const numbers = [
        ...new Set([...JSON.stringify(document).matchAll(/"epcClass":"([^"]+)"/g)].map((match) => match[1]!)),
      ];
      const gtins = [...new Set(numbers.flatMap((uri) => tradeIdOf(uri)?.gtin ?? []))];
      const { url } = await expected(
        gtins.length === 0
          ? [{ gtin: '09506000134352', measure: 'weighed', quantity: 1 }]
          : gtins.map((gtin) => ({ gtin, measure: 'weighed', quantity: 300_000_000 })),
      );
      const answer = await shelf.post<AnnouncedView>(url, document);
      expect(answer.status, `${file} ${answer.text}`).toBe(200);
      found[file] = answer.body.lots.map(({ supplierLot, quantity }) => [supplierLot, quantity]);
    }
    // pieces alone name no lot; what went into something is not what comes; an event declared an error is not told
    expect(found).toEqual({
      'AggregationEvent.json': [['998877', 200_500_000]],
      'ObjectEvent.json': [],
      'ObjectEvent_with_digitalLink.json': [['998877', 200_000_000]],
      'TransformationEvent.json': [],
      'TransformationEvent_with_digitalLink.json': [],
      'TransformationEvent_with_error_declaration.json': [],
    });
  });

  it.each([
    ['EPCISDocument_without_context.json', '/@context'],
    ['ObjectEvent_with_invalid_action.json', '/epcisBody/eventList/0/action'],
    ['ObjectEvent_with_invalid_eventTime_format.json', '/epcisBody/eventList/0/eventTime'],
    ['ObjectEvent_with_quantity_as_text.json', '/epcisBody/eventList/0/quantityList/0/quantity'],
    ['ObjectEvent_with_unknown_field_in_quantityList.json', '/epcisBody/eventList/0/quantityList/0/weight'],
    ['ObjectEvent_without_action_and_eventTime.json', '/epcisBody/eventList/0/eventTime'],
  ])('is refused with a pointer: %s', async (file, pointer) => {
    const { url } = await expected([{ gtin: '09521141012345', measure: 'counted', quantity: 20 }]);
    const answer = await shelf.post(url, read(`invalid/${file}`));
    expect(answer.status).toBe(422);
    expect(answer.body.errors!.map((error) => error.pointer)).toContain(pointer);
    expect((await shelf.get<AnnouncedView>(url)).lots).toEqual([]);
  });

  it('fills the lots of a delivery with their numbers and dates, as our own document tells them', async () => {
    const [oil, caps] = ['04012345123456', '04012345444445'];
    const { url, delivery, item } = await expected([
      { gtin: oil, measure: 'weighed', quantity: 5_000_000 },
      { gtin: caps, measure: 'counted', quantity: 100 },
    ]);
    const shipped = {
      type: 'ObjectEvent',
      eventID: 'urn:uuid:374d95fc-9457-4a51-bd6a-0bba133845a8',
      eventTime: '2026-03-01T09:00:00+01:00',
      eventTimeZoneOffset: '+01:00',
      action: 'OBSERVE',
      bizStep: 'shipping',
      quantityList: [
        { epcClass: `https://id.gs1.org/01/${oil}/10/A-17`, quantity: 2.5, uom: 'KGM' },
        { epcClass: `https://id.gs1.org/01/${oil}/10/A-18`, quantity: 2_500, uom: 'GRM' },
        { epcClass: `https://id.gs1.org/01/${caps}/10/C%2F9`, quantity: 100 },
        { epcClass: 'https://id.gs1.org/01/09506000134352/10/Z', quantity: 1 },
      ],
    };
    const packed = {
      ...shipped,
      action: 'ADD',
      eventID: 'urn:uuid:374d95fc-9457-4a51-bd6a-0bba133845a9',
      bizStep: 'packing',
      quantityList: [{ epcClass: `https://id.gs1.org/01/${oil}/10/A-17`, quantity: 9, uom: 'KGM' }],
      ilmd: { 'urn:epcglobal:cbv:mda:itemExpirationDate': '2027-06-30' },
    };
    const document = {
      '@context': ['https://ref.gs1.org/standards/epcis/epcis-context.jsonld'],
      type: 'EPCISDocument',
      schemaVersion: '2.0',
      creationDate: '2026-03-01T10:00:00Z',
      epcisBody: { eventList: [packed, shipped] },
    };
    expect(faults(document)).toEqual([]);
    const view = await shelf.done<AnnouncedView>(url, document);
    expect(
      view.lots.map(({ line, supplierLot, quantity, expiresOn }) => [line, supplierLot, quantity, expiresOn]),
    ).toEqual([
      [1, 'A-17', 2_500_000, '2027-06-30'],
      [1, 'A-18', 2_500_000, null],
      [2, 'C/9', 100, null],
    ]);
    expect(view.leftAside).toEqual([
      expect.objectContaining({ epcClass: 'https://id.gs1.org/01/09506000134352/10/Z' }),
    ]);
    expect((await shelf.done<AnnouncedView>(url, document)).lots).toHaveLength(3);
    const received = await shelf.done<{ lots: { lot: string }[] }>(`/api/deliveries/${delivery}/receive-announced`, {});
    const lots = await Promise.all(received.lots.map(({ lot }) => shelf.lot(lot)));
    expect(lots.map((lot: LotView) => [lot.item, lot.supplierLot, lot.onHand, lot.expiresOn])).toEqual([
      [item(0), 'A-17', 2_500_000, '2027-06-30'],
      [item(0), 'A-18', 2_500_000, '2027-06-30'],
      [item(1), 'C/9', 100, null],
    ]);
    // it is no longer expected, and nothing of it can be announced
    expect(await shelf.refused(url, document)).toBe('409 not-expected');
    expect(await shelf.refused(`/api/deliveries/${delivery}/receive-announced`, {})).toBe('409 not-expected');
  });
});
