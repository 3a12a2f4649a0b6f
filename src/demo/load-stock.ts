import type { EntityManager } from 'typeorm';
import { amountOf } from '../catalog/amount.js';
import type { Family, Item } from '../catalog/item.entity.js';
import { addDays } from '../kernel/measure/day.js';
import { addDelivery } from '../purchasing/deliveries.service.js';
import type { NewMovement, Receipt, StockService } from '../stock/stock.service.js';
import { ownLotCode } from '../stock/stock.service.js';
import type { DemoDays } from './demo-days.js';
import type { Shelf } from './load-catalog.js';
import { DELIVERIES, LOTS, USED } from './stock.js';

/** How the use of four weeks is spread: [days ago, hundredths]. The oldest shows that there are four weeks to judge by. */
const USE_DAYS: [daysAgo: number, hundredths: number][] = [
  [40, 60],
  [24, 40],
  [12, 35],
  [4, 25],
];

/** What one unit made, or one kilogram of a bulk, is worth, in 1/10 000 of the currency unit. */
const MADE_E4: Partial<Record<Family, number>> = {
  base: 95_000,
  spray: 31_000,
  body: 28_000,
  candle: 42_000,
  diffuser: 57_000,
  soap: 15_000,
};
const BULK_E4_PER_KG = 140_000;
const SET_E4 = 110_000;
const MG_PER_KG = 1_000_000;

/** Lots of various ages with what was used of them before, and the deliveries on their way. */
export async function loadStock(tx: EntityManager, stock: StockService, days: DemoDays, shelf: Shelf): Promise<void> {
  const used = new Map(USED.map(([code, amount]) => [code, amountOf(amount, shelf.items.get(code)!, '/quantity')]));
  const serials = new Map<string, number>();
  const receipts: Receipt[] = [];
  const uses: Omit<NewMovement, 'lotId'>[][] = [];
  for (const lot of LOTS) {
    const item = shelf.items.get(lot.item)!;
    const cameOn = addDays(days.today, -lot.cameDaysAgo);
    const serial = (serials.get(cameOn) ?? 0) + 1;
    serials.set(cameOn, serial);
    // the first lot listed of an item is its oldest, which is used first
    const before = usesOf(used.get(item.code) ?? 0);
    used.delete(item.code);
    const quantity = before.reduce((sum, use) => sum + use.quantity, amountOf(lot.left, item, '/quantity'));
    receipts.push({
      item,
      quantity,
      cause: 'receipt',
      // the database is empty, so nobody has to be asked which codes are taken
      code: ownLotCode(cameOn, serial),
      cameOn,
      expiresOn: lot.lastDay === undefined ? undefined : addDays(days.week, lot.lastDay),
      status: 'released',
      valueE4: worthE4(item, quantity, shelf),
      place: lot.place,
      supplierId: shelf.packs.get(item.id)?.supplierId ?? null,
      reason: item.kind === 'material' ? '' : 'opening count',
    });
    uses.push(
      before.map(({ daysAgo, quantity: taken }) => {
        const doneOn = addDays(days.today, -daysAgo);
        return { cause: 'consumption', quantity: -taken, doneOn, reason: 'earlier batches' };
      }),
    );
  }
  const lots = await stock.receiveAll(tx, receipts);
  const movements = lots.flatMap(({ id: lotId }, index) => uses[index]!.map((use) => ({ ...use, lotId })));
  await stock.moveLots(tx, movements);
  for (const { code, supplier, day, lines } of DELIVERIES)
    await addDelivery(tx, { code, supplier, expectedOn: addDays(days.week, day), lines });
}

/** What four weeks' use took on which day. */
function usesOf(in28Days: number): { daysAgo: number; quantity: number }[] {
  return USE_DAYS.map(([daysAgo, hundredths]) => ({
    daysAgo,
    quantity: Math.floor((in28Days * hundredths) / 100),
  })).filter(({ quantity }) => quantity > 0);
}

function worthE4(item: Item, quantity: number, shelf: Shelf): number {
  const pack = shelf.packs.get(item.id);
  if (pack) return Math.round((quantity / pack.size) * pack.priceE4);
  if (item.kind === 'set') return quantity * SET_E4;
  if (item.kind === 'product') return quantity * (MADE_E4[item.family] ?? 0);
  return Math.round((quantity / MG_PER_KG) * (item.family === 'base' ? MADE_E4.base! : BULK_E4_PER_KG));
}
