import createClient from 'openapi-fetch';
import type { paths } from './api.js';

/** What the README's examples answer to a program whose client is made from the description, step by step. */
export interface Played {
  ready: string;
  bulks: number;
  cedarDensity: number | null;
  formulaLines: number;
  percents: (string | null)[];
  sheetMg: number;
  plum: string;
  pack: string;
  lotOnHand: number;
  cedarLots: number;
  deliveries: number;
  order: string;
  imported: number;
  found: number;
  run: number;
  needs: number;
  shortfalls: number;
  atRisk: number;
  batches: number;
  toReorder: number;
  undone: string;
  refused: string[];
}

const CSV = 'Order,SKU,Qty,Ship by\n#9002,SP-CEDAR-100,2,2099-01-15\n#9002,CA-FIG-220,1,2099-01-15\n';

/** Plays them against a server. Throws at the first that is refused. */
export async function play(baseUrl: string): Promise<Played> {
  const client = createClient<paths>({ baseUrl, headers: { 'Lotwright-Person': 'Ada' } });

  const ready = got(await client.GET('/health/ready'));
  const { items } = got(await client.GET('/api/items', { params: { query: { kind: 'bulk', limit: 3 } } }));
  const cedar = got(await client.GET('/api/items/{code}', { params: { path: { code: 'SP-CEDAR-100' } } }));
  const path = { code: 'BLK-SP-CEDAR' };
  const { formulas } = got(await client.GET('/api/items/{code}/formulas', { params: { path } }));
  const id = formulas[0]!.id;
  const formula = got(await client.GET('/api/formulas/{id}', { params: { path: { id } } }));

  const solved = got(
    await client.POST('/api/formulas/solve', {
      body: {
        lines: [
          { item: 'BASE-SPRAY', basis: 'qs', isBase: true },
          { item: 'FO-CEDAR', basis: 'load', amount: '5 %' },
        ],
      },
    }),
  );
  const sheet = got(
    await client.POST('/api/formulas/{id}/scale', { params: { path: { id } }, body: { batch: '2.5 kg' } }),
  );

  const plum = got(
    await client.POST('/api/items', {
      body: {
        code: 'FO-PLUM',
        name: 'Winter Plum fragrance',
        kind: 'material',
        measure: 'weighed',
        family: 'fragrance',
        density: '0.96 g/ml',
        shelfLifeDays: 365,
      },
    }),
  );
  const pack = got(
    await client.POST('/api/packs', {
      body: { supplier: 'BRINDLE', item: 'FO-PLUM', code: 'PLUM-4OZ', size: '4 oz', priceE4: 189_000, leadDays: 9 },
    }),
  );
  const lot = got(
    await client.POST('/api/lots', {
      body: { item: 'FO-PLUM', quantity: '4 fl oz', costE4: 189_000, supplierLot: 'P-77', place: 'scent cupboard' },
    }),
  );
  const { lots } = got(await client.GET('/api/lots', { params: { query: { item: 'FO-CEDAR' } } }));
  const { deliveries } = got(await client.GET('/api/deliveries'));

  const order = got(
    await client.POST('/api/orders', {
      body: {
        channel: 'webshop',
        number: '#9001',
        customer: 'Made-up Customer',
        lines: [{ code: 'SP-CEDAR-100', quantity: 3 }],
      },
    }),
  );
  const report = got(
    await client.POST('/api/orders/import', {
      params: { query: { channel: 'webshop' } },
      body: CSV,
      bodySerializer: (csv) => csv,
      headers: { 'content-type': 'text/csv' },
    }),
  );
  const { orders } = got(await client.GET('/api/orders', { params: { query: { search: '900' } } }));

  const draft = got(await client.POST('/api/runs', { body: {} }));
  const ofRun = { params: { path: { id: draft.id } } };
  const { runs } = got(await client.GET('/api/runs'));
  const { needs } = got(await client.GET('/api/runs/{id}/needs', ofRun));
  const { shortfalls } = got(await client.GET('/api/runs/{id}/shortfalls', ofRun));
  const { atRisk } = got(await client.GET('/api/runs/{id}/at-risk', ofRun));
  const committed = got(
    await client.POST('/api/runs/{id}/commit', { params: { ...ofRun.params, query: { replan: 'true' } } }),
  );
  const { rows } = got(await client.GET('/api/reorder'));
  const undone = got(await client.POST('/api/runs/{id}/undo', { ...ofRun, body: { why: 'the kettle leaks' } }));

  return {
    ready: ready.status,
    bulks: items.length,
    cedarDensity: cedar.densityUgPerMl,
    formulaLines: formula.lines.length,
    percents: solved.lines.map(({ percent }) => percent),
    sheetMg: sheet.putInMg,
    plum: plum.code,
    pack: pack.code,
    lotOnHand: lot.onHand,
    cedarLots: lots.length,
    deliveries: deliveries.length,
    order: `${order.channel}/${order.number}`,
    imported: report.rows.new,
    found: orders.length,
    run: runs.filter((each) => each.id === draft.id).length,
    needs: needs.length,
    shortfalls: shortfalls.length,
    atRisk: atRisk.length,
    batches: committed.batches.length,
    toReorder: rows.length,
    undone: undone.status,
    refused: await refusals(baseUrl),
  };
}

/** What does not fit is known before anything is sent: each of these lines is an error of types, and is refused too. */
async function refusals(baseUrl: string): Promise<string[]> {
  const client = createClient<paths>({ baseUrl });
  // @ts-expect-error a channel has a name
  const nameless = await client.POST('/api/channels', { body: { code: 'fair' } });
  // @ts-expect-error a quantity is an amount
  const wrong = await client.POST('/api/lots', { body: { item: 'FO-PLUM', quantity: true } });
  // @ts-expect-error there is no such place
  const nowhere = await client.GET('/api/nowhere');
  const stale = await client.POST('/api/runs/{id}/commit', { params: { path: { id: 999_999 } } });
  // @ts-expect-error a problem has no such member
  void stale.error?.surprise;
  return [nameless, wrong, nowhere, stale].map(({ error }) => (error as { code: string } | undefined)?.code ?? 'taken');
}

function got<Data>({ data, error, response }: { data?: Data; error?: unknown; response: Response }): NonNullable<Data> {
  if (data === undefined || data === null)
    throw new Error(`${response.url} answered ${response.status}: ${JSON.stringify(error)}`);
  return data;
}
