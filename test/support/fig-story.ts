import { expect } from 'vitest';
import { BatchesService } from '../../src/batches/batches.service.js';
import { Database } from '../../src/platform/database.js';
import { addDays } from '../../src/kernel/measure/day.js';
import { pegBatch } from '../../src/planning/pegs.js';
import type { TestApp } from './app.js';
import { benchOf } from './bench.js';
import { shelfOf } from './shelf.js';

interface Line {
  position: number;
  item: string;
  step: string;
  stocked: boolean;
  /** Of the put in; or for each unit. */
  partPpb: number | null;
  amount: number | null;
}

/** The lots a story is about, by what they are. */
export interface FigStory {
  /** The fragrance both came of. */
  fragrance: string;
  spray: string;
  candle: string;
}

/**
 * Autumn in the demonstration, through its real services: a spray and candles made with one lot of fig, and a spray of
 * cedar, poured, filled, checked, released and sent to customers. What else goes in was bought for it, so the shelf is as
 * it was but for the fig.
 */
export async function tellFigStory(app: TestApp): Promise<FigStory> {
  const [{ code: fragrance }] = (await app.database.query<{ code: string }>(
    `select l.code from lot l join item i on i.id = l.item_id where i.code = 'FO-FIG' order by l.id limit 1`,
  )) as [{ code: string }];
  const spray = await filled(app, {
    bulk: 'BLK-SP-FIG',
    product: 'SP-FIG-100',
    day: '2026-10-05',
    pieces: 24,
    own: { 'FO-FIG': fragrance },
  });
  const candle = await filled(app, {
    bulk: 'BLK-CA-FIG',
    product: 'CA-FIG-120',
    day: '2026-10-07',
    pieces: 18,
    own: { 'FO-FIG': fragrance },
  });
  const cedar = await filled(app, {
    bulk: 'BLK-SP-CEDAR',
    product: 'SP-CEDAR-100',
    day: '2026-10-06',
    pieces: 24,
    own: {},
  });
  await sent(app, 'A-1', 'Ada Elverby', [['SP-FIG-100', spray, 10]]);
  await sent(app, 'A-2', 'Hal Ivens', [
    ['CA-FIG-120', candle, 8],
    ['SP-CEDAR-100', cedar, 4],
  ]);
  await sent(app, 'A-3', 'Ines Garside', [
    ['SP-FIG-100', spray, 14],
    ['CA-FIG-120', candle, 10],
  ]);
  await sent(app, 'A-4', 'Two Doors Down', [['SP-CEDAR-100', cedar, 20]]);
  return { fragrance, spray, candle };
}

async function linesOf(app: TestApp, item: string): Promise<{ version: number; lines: Line[] }> {
  const rows = await app.database.query<Line & { version: number }>(
    `select f.version, fl.position, i.code as item, fl.step, i.stocked, fl.part_ppb as "partPpb", fl.amount
     from formula f join item made on made.id = f.item_id join formula_line fl on fl.formula_id = f.id
       join item i on i.id = fl.item_id
     where made.code = $1 and f.version = (select max(version) from formula where item_id = made.id) order by fl.position`,
    [item],
  );
  return { version: rows[0]!.version, lines: rows };
}

/** A pour and, three weeks later, what was filled from all of it; answers the product's lot. */
async function filled(
  app: TestApp,
  of: { bulk: string; product: string; day: string; pieces: number; own: Record<string, string> },
): Promise<string> {
  const product = await linesOf(app, of.product);
  const bulkMg = product.lines.find(({ item }) => item === of.bulk)!.amount! * of.pieces;
  const bulk = await made(app, { item: of.bulk, day: of.day, output: bulkMg, putInMg: bulkMg, lots: of.own });
  return made(app, {
    item: of.product,
    day: addDays(of.day, 21),
    output: of.pieces,
    putInMg: bulkMg,
    lots: { [of.bulk]: bulk },
  });
}

async function made(
  app: TestApp,
  of: { item: string; day: string; output: number; putInMg: number; lots: Record<string, string> },
): Promise<string> {
  const bench = benchOf(app);
  const { version, lines } = await linesOf(app, of.item);
  let rest = of.putInMg;
  const inputs = lines.map(({ position, item, step, partPpb, amount, stocked }, at) => {
    const isLastPart = partPpb !== null && lines.slice(at + 1).every((line) => line.partPpb === null);
    const part = partPpb === null ? 0 : isLastPart ? rest : Math.floor((of.putInMg * partPpb) / 1e9);
    rest -= part;
    return { position, item, step, stocked, needOn: of.day, quantity: partPpb === null ? amount! * of.output : part };
  });
  const batches = app.app.get(BatchesService, { strict: false });
  const code = await app.app.get(Database).act({ who: 'Edda' }, async (tx) => {
    const batch = await batches.create(tx, {
      runId: null,
      item: of.item,
      formulaVersion: version,
      vessel: null,
      day: of.day,
      readyOn: addDays(of.day, 14),
      emptiedOn: addDays(of.day, 14),
      output: of.output,
      putInMg: of.putInMg,
      minutes: 60,
      expiresOn: null,
      inputs,
    });
    await pegBatch(tx, batch.id, [{ orderLineId: null, forBatchId: null, quantity: of.output }]);
    await batches.setStatus(tx, [batch.id], 'reserved');
    return batch.code;
  });
  const weigh = async (after: boolean) => {
    for (const { position, item, quantity, step, stocked } of inputs) {
      if (!stocked || (step === 'pack') !== after) continue;
      await bench.weigh(code, position, of.lots[item] ?? (await bought(app, item, quantity, of.day)), quantity, {
        on: of.day,
      });
    }
  };
  await weigh(false);
  const isRested = lines.some(({ step }) => step !== 'pack') && lines.some(({ step }) => step === 'pack');
  if (isRested) await weigh(true);
  const { lot } = await bench.finish(code, of.output, { on: of.day, lossReason: 'as it goes' });
  await bench.check(code);
  await bench.release(code, { why: 'it has rested' });
  return lot;
}

/** Exactly what is needed, from a day before. */
async function bought(app: TestApp, item: string, quantity: number, day: string): Promise<string> {
  return shelfOf(app).receive(item, quantity, { receivedOn: addDays(day, -1), expiresOn: '2028-01-01' });
}

async function sent(
  app: TestApp,
  number: string,
  customer: string,
  lines: [item: string, lot: string, quantity: number][],
) {
  const shelf = shelfOf(app);
  const ordered = lines.map(([code, , quantity]) => ({ code, quantity, shipBy: '2026-11-05' }));
  await shelf.done('/api/orders', { channel: 'webshop', number, customer, placedOn: '2026-10-29', lines: ordered });
  const parts = lines.map(([code, lot, quantity]) => ({ code, occurrence: 1, lot, quantity }));
  const answer = await app.request('POST', '/api/shipments', {
    channel: 'webshop',
    number,
    on: '2026-11-02',
    lines: parts,
  });
  expect(answer.status, answer.text).toBe(201);
}
