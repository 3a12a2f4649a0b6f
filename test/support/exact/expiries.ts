import type { Snapshot } from '../../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line, seeded } from '../workshop.js';
import { isoOf, startOf } from './arithmetic.js';
import { PLENTY } from './weeks.js';

/** What a candle takes, and what lies there of a lot, are whole numbers of these. */
const PORTION_MG = 50_000;

/**
 * A week in which lots of wax and oil end, with orders for later that could use them up now if bench and moulds allow it.
 * Fresh lots are there in plenty, batches may be as small as one piece and nothing is lost, so that nothing is rounded.
 */
export function expiryWeek(seed: number): Snapshot {
  const pick = seeded(seed);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const shop = emptyWorkshop();
  const most = [120, 200, 320][pick(3)]!;
  shop.workshop.benchMinutes = [0, 1, 2, 3, 4].map(() => between(Math.ceil(most / 2), most)).concat([0, 0]);
  shop.workshop.benchMinutes[pick(5)] = most;
  shop.workshop.slackDays = pick(3);
  shop.items.push(item('JAR', { measure: 'counted' }));
  addLot(shop, 'JAR', PLENTY, null);
  const waxes = ['WAX-1', 'WAX-2'].slice(0, between(1, 2));
  for (const code of waxes) shop.items.push(item(code));
  for (let n = between(1, 2); n > 0; n--)
    shop.vessels.push({ code: `MOULD-${n}`, kind: 'mould', capacityMg: between(20, 60) * 100_000 });
  const mouldMg = Math.max(...shop.vessels.map(({ capacityMg }) => capacityMg));
  for (let n = between(2, 4); n > 0; n--) {
    const code = `CANDLE-${n}`;
    const amount = between(2, 8) * PORTION_MG;
    const isPoured = pick(3) > 0;
    const made = formula(code, [line(1, waxes[pick(waxes.length)]!, 'each', amount), line(2, 'JAR', 'each', 1)], {
      vesselKind: isPoured ? 'mould' : null,
      batchMax: isPoured ? Math.floor(mouldMg / amount) : null,
      minutesBatch: between(10, 40),
      secondsUnit: 60,
      restDays: isPoured ? pick(5) : 0,
    });
    const shelfLifeDays = pick(4) === 0 ? made.restDays + between(6, 14) : null;
    shop.items.push(item(code, { kind: 'product', measure: 'counted', shelfLifeDays }));
    shop.formulas.push(made);
    const fits = Math.min(made.batchMax ?? 1_000, most - made.minutesBatch);
    for (let of = between(1, 2); of > 0; of--)
      shop.lines.push({
        key: `${code}-${of}`,
        item: code,
        quantity: between(Math.ceil(fits / 6), Math.ceil((4 * fits) / 5)),
        shipBy: isoOf(startOf(shop) + between(6, 21)),
        notBefore: null,
      });
  }
  for (const code of waxes) addWax(shop, code, between);
  return shop;
}

/** One or two lots that end within the week, together up to what the orders need, and plenty of a fresh one. */
function addWax(shop: Snapshot, code: string, between: (low: number, high: number) => number): void {
  const needed = shop.lines.reduce((sum, { item: of, quantity }) => {
    const { amount, item: wax } = shop.formulas.find((one) => one.item === of)!.lines[0]!;
    return wax === code ? sum + quantity * amount : sum;
  }, 0);
  for (let n = between(1, 2); n > 0; n--) {
    const free = Math.floor((needed * between(1, 6)) / (12 * PORTION_MG)) * PORTION_MG;
    if (free > 0) addLot(shop, code, free, isoOf(startOf(shop) + between(1, 6)), n);
  }
  addLot(shop, code, PLENTY, null);
}

/** Worth one ten-thousandth a milligram. */
function addLot({ lots }: Snapshot, code: string, free: number, expiresOn: string | null, n = 0): void {
  lots.push({ code: `${code}-L${n}`, item: code, free, onHand: free, valueE4: free, expiresOn });
}
