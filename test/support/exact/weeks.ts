import type { Snapshot, SnapshotFormulaLine } from '../../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line, seeded } from '../workshop.js';
import { isoOf, largest, putIn, startOf } from './arithmetic.js';

/** More of a material than any of these weeks can use. */
export const PLENTY = 1_000_000_000_000;

interface Draw {
  shop: Snapshot;
  pick: (below: number) => number;
  between: (low: number, high: number) => number;
  /** Batches that the order lines drawn so far can need at most. */
  batches: number;
}

/** A week's batches at most. */
const BATCHES_MOST = 12;

/**
 * A small week of a workshop: candles that harden in moulds, sprays that are poured, rest and are filled from their jug,
 * and things that need no vessel. A bench from tight to loose; moulds that are in use, materials still on their way. What
 * is made must fit into one of its vessels and one day, and so does each order line; nothing is ever left over of a jug.
 */
export function smallWeek(seed: number): Snapshot {
  const pick = seeded(seed);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const shop = emptyWorkshop();
  const draw: Draw = { shop, pick, between, batches: 0 };
  shop.workshop.benchMinutes = benchOf(draw);
  shop.workshop.slackDays = pick(3);
  shop.workshop.receivingDays = pick(2);
  for (let n = pick(4); n > 0; n--) shop.workshop.closedDays.push(isoOf(startOf(shop) + pick(14)));
  shop.items.push(item('WATER', { stocked: false }));
  for (const code of ['WAX', 'OIL', 'BOTTLE', 'JAR', 'LABEL', 'CAP']) addMaterial(draw, code);
  const rooms = pick(3);
  const sprays = rooms === 0 ? 0 : between(1, 2);
  const candles = rooms === 1 ? 0 : between(1, 4);
  if (candles > 0) addVessels(draw, 'mould', between(1, 3), 2_000_000, 6_000_000);
  if (sprays > 0) addVessels(draw, 'jug', between(1, 3), 3_000_000, 9_000_000);
  for (let n = 1; n <= candles; n++) addCandle(draw, n);
  for (let n = 1; n <= sprays; n++) addSpray(draw, n);
  for (let n = pick(3); n > 0; n--) addPlain(draw, n);
  addWhatStands(draw);
  return shop;
}

/** Minutes from Monday to Sunday. */
function benchOf({ pick, between }: Draw): number[] {
  const most = [150, 210, 300, 420][pick(4)]!;
  const days = [0, 1, 2, 3, 4].map(() => (pick(6) === 0 ? 0 : between(Math.ceil(most / 2), most)));
  days[pick(5)] = most;
  return [...days, pick(3) === 0 ? Math.ceil(most / 2) : 0, 0];
}

/** On the shelf, or on its way, or some of each. */
function addMaterial({ shop, pick, between }: Draw, code: string): void {
  const measure = code === 'WAX' || code === 'OIL' ? 'weighed' : 'counted';
  shop.items.push(item(code, { measure }));
  const free = pick(5) > 0 ? PLENTY : measure === 'weighed' ? 0 : between(0, 30);
  if (free > 0) shop.lots.push({ code: `${code}-1`, item: code, free, onHand: free, valueE4: 0, expiresOn: null });
  if (free < PLENTY)
    shop.deliveries.push({
      key: `${code}-2`,
      item: code,
      free: PLENTY,
      day: isoOf(startOf(shop) + between(1, 9)),
      expiresOn: null,
    });
}

function addVessels({ shop, between }: Draw, kind: string, count: number, least: number, most: number): void {
  for (let n = 1; n <= count; n++)
    shop.vessels.push({ code: `${kind}-${n}`, kind, capacityMg: between(least / 100_000, most / 100_000) * 100_000 });
}

/** Poured into its mould, where it hardens. */
function addCandle(draw: Draw, n: number): void {
  const { shop, pick, between } = draw;
  const code = `CANDLE-${n}`;
  const made = formula(
    code,
    [line(1, 'WAX', 'each', between(10, 40) * 10_000), line(2, 'JAR', 'each', 1), line(3, 'LABEL', 'each', 1, 'pack')],
    {
      vesselKind: 'mould',
      lossPpb: pick(2) * 20_000_000,
      minutesBatch: between(10, 40),
      secondsUnit: [30, 60, 120][pick(3)]!,
      restDays: pick(8),
    },
  );
  const mostMg = Math.max(...shop.vessels.filter(({ kind }) => kind === 'mould').map((one) => one.capacityMg));
  made.batchMax = largest(1_000, (output) => putIn(shop, made, output) <= mostMg);
  made.batchMultiple = pick(4) === 0 ? 2 : 1;
  const most = Math.min(made.batchMax, dayHolds(draw, made));
  made.batchMin = pick(3) === 0 ? Math.max(1, Math.floor(most / 3)) : 1;
  shop.items.push(item(code, { kind: 'product', measure: 'counted' }));
  shop.formulas.push(made);
  addLines(draw, code, most - (most % made.batchMultiple));
}

/** One bulk and what is filled from it. */
function addSpray(draw: Draw, n: number): void {
  const { shop, pick, between } = draw;
  const code = `BULK-${n}`;
  const poured = formula(code, [line(1, 'WATER', 'part', 900_000_000), line(2, 'OIL', 'part', 100_000_000)], {
    vesselKind: 'jug',
    lossPpb: pick(2) * 10_000_000,
    minutesBatch: between(15, 50),
    restDays: pick(6),
  });
  shop.items.push(item(code, { kind: 'bulk', shelfLifeDays: pick(3) === 0 ? poured.restDays + between(3, 12) : null }));
  shop.formulas.push(poured);
  // its fillings take one pour, or two, or three
  draw.batches += 3;
  const mostMg = Math.max(...shop.vessels.filter(({ kind }) => kind === 'jug').map((one) => one.capacityMg));
  const held = largest(mostMg, (output) => putIn(shop, poured, output) <= mostMg);
  for (let filling = between(1, 4); filling > 0; filling--) {
    const of = `SPRAY-${n}${filling}`;
    const amount = [50_000, 100_000, 150_000, 250_000][pick(4)]!;
    const parts: SnapshotFormulaLine[] = [line(1, code, 'each', amount, 'fill'), line(2, 'BOTTLE', 'each', 1, 'fill')];
    if (pick(2) === 0) parts.push(line(3, 'LABEL', 'each', 1, 'pack'));
    const filled = formula(of, parts, {
      minutesBatch: between(5, 20),
      secondsUnit: [30, 60, 90][pick(3)]!,
      restDays: pick(4) === 0 ? between(1, 3) : 0,
    });
    const shelfLifeDays = pick(5) === 0 ? filled.restDays + between(12, 20) : null;
    shop.items.push(
      item(of, { kind: 'product', measure: 'counted', shelfLifeDays, owedLifeDays: shelfLifeDays ? between(0, 6) : 0 }),
    );
    shop.formulas.push(filled);
    addLines(draw, of, Math.min(Math.floor(held / amount), dayHolds(draw, filled)));
  }
}

/** Put together at the bench. */
function addPlain(draw: Draw, n: number): void {
  const { shop, between } = draw;
  const code = `PLAIN-${n}`;
  const made = formula(code, [line(1, 'CAP', 'each', 1), line(2, 'OIL', 'each', 5_000)], {
    minutesBatch: between(5, 40),
    secondsUnit: 120,
  });
  shop.items.push(item(code, { kind: 'product', measure: 'counted' }));
  shop.formulas.push(made);
  addLines(draw, code, dayHolds(draw, made));
}

/** What the longest day of a week holds of something at the bench. */
const dayHolds = ({ shop }: Draw, { minutesBatch, secondsUnit }: ReturnType<typeof formula>): number =>
  Math.floor((60 * (Math.max(...shop.workshop.benchMinutes) - minutesBatch)) / secondsUnit);

/** One or two order lines, none larger than one batch. */
function addLines(draw: Draw, code: string, most: number): void {
  const { shop, pick, between } = draw;
  let n = between(1, 2);
  if (most <= 0) return;
  for (; n > 0 && draw.batches < BATCHES_MOST; n--) {
    draw.batches++;
    const inDays = pick(10) === 0 ? -between(1, 4) : between(2, pick(3) === 0 ? 10 : 21);
    shop.lines.push({
      key: `${code}-${n}`,
      item: code,
      quantity: between(Math.ceil(most / 6), Math.ceil((4 * most) / 5)),
      shipBy: isoOf(startOf(shop) + inDays),
      notBefore: null,
    });
  }
}

/** Vessels that hold something of an earlier week, whose making has minutes of the first days. */
function addWhatStands({ shop, pick, between }: Draw): void {
  for (const { code, kind } of shop.vessels) {
    if (pick(3) > 0) continue;
    const began = between(-4, 1);
    const emptied = isoOf(startOf(shop) + Math.max(began, between(0, 6)));
    shop.making.push({
      code: `${code}-M`,
      item: shop.formulas.find(({ vesselKind }) => vesselKind === kind)!.item,
      free: 0,
      day: isoOf(startOf(shop) + began),
      readyOn: emptied,
      emptiedOn: emptied,
      vessel: code,
      minutes: between(10, 50),
      expiresOn: null,
    });
  }
}
