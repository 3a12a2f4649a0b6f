import type { z } from 'zod';
import { invalid } from '../../platform/problem.js';
import type {
  purchaseOrderChange,
  purchaseOrderConfirm,
  PurchaseOrderView,
} from '../../purchasing/purchase-orders.schema.js';
import type { deliveryReceive } from '../../purchasing/purchasing.schema.js';
import { type Fault, type Sent, written, writtenAmount } from '../../ui/form.js';
import { moneyE4Of } from '../../ui/amounts.js';

/** The forms of a purchase order: which of them was sent, and where a fault belongs. */
export const PURCHASE_FORMS = [
  'change',
  'send',
  'email',
  'take-back',
  'confirm',
  'freight',
  'receive',
  'date',
  'end',
  'cancel',
] as const;
export type PurchaseForm = (typeof PURCHASE_FORMS)[number];

/** Lines a form sends that are meant, with their place in it. */
export interface Placed<Body> {
  body: Body;
  /** Of each line sent on: its number in the form. */
  rows: number[];
}

/** A whole number of packs. Throws a 422 problem at its field for other text. */
function packsIn(sent: Sent, name: string): number | undefined {
  const text = written(sent, name);
  if (text !== undefined && !/^\d{1,6}$/.test(text))
    throw invalid(`/${name}`, 'Write a whole number of packs, such as 3.', 'not-a-number');
  return text === undefined ? undefined : Number(text);
}

/** A draft as the form means it: a line without packs goes, the last row may add one. */
export function changeOf(sent: Sent, order: PurchaseOrderView): Placed<z.input<typeof purchaseOrderChange>> {
  const rows = [...order.lines.keys(), order.lines.length].filter(
    (row) => (packsIn(sent, `lines/${row}/packs`) ?? 0) !== 0,
  );
  const body = {
    lines: rows.map((row) => {
      const priceE4 = moneyE4Of(written(sent, `lines/${row}/price`), `/lines/${row}/price`);
      return {
        pack: order.lines[row]?.pack ?? written(sent, `lines/${row}/pack`) ?? '',
        packs: packsIn(sent, `lines/${row}/packs`) ?? 0,
        ...(priceE4 === undefined ? {} : { priceE4 }),
      };
    }),
    note: sent['note'] ?? '',
    freightE4: moneyE4Of(written(sent, 'freight'), '/freight') ?? 0,
  };
  return { body, rows };
}

/** What the supplier confirms, as the form means it: all of a line unless it says how much, the rest on a later day or never. */
export function confirmOf(sent: Sent, order: PurchaseOrderView): z.input<typeof purchaseOrderConfirm> {
  const expectedOn = written(sent, 'expectedOn') ?? '';
  return {
    expectedOn,
    reference: sent['reference'] ?? '',
    freightE4: moneyE4Of(written(sent, 'freight'), '/freight') ?? 0,
    takePrices: sent['takePrices'] === 'yes',
    lines: order.lines.map(({ line, packs: asked }, row) => {
      const priceE4 = moneyE4Of(written(sent, `lines/${row}/price`), `/lines/${row}/price`);
      const packs = packsIn(sent, `lines/${row}/packs`) ?? asked;
      const later = written(sent, `lines/${row}/later`);
      const first = packs === 0 ? [] : [{ packs, expectedOn: written(sent, `lines/${row}/on`) ?? expectedOn }];
      const rest = later === undefined || packs >= asked ? [] : [{ packs: asked - packs, expectedOn: later }];
      return { line, ...(priceE4 === undefined ? {} : { priceE4 }), parts: [...first, ...rest] };
    }),
  };
}

/** What came of a delivery: lines with an amount. */
export function receiveOf(
  sent: Sent,
  order: PurchaseOrderView,
  delivery: PurchaseOrderView['deliveries'][number],
): Placed<z.input<typeof deliveryReceive>> {
  const rows = [...delivery.lines.keys()].filter((row) => written(sent, `lines/${row}/quantity`) !== undefined);
  const receivedOn = written(sent, 'receivedOn');
  const body = {
    ...(receivedOn === undefined ? {} : { receivedOn }),
    restStillComes: sent['rest'] === 'yes',
    lines: rows.map((row) => {
      const { line, of } = delivery.lines[row]!;
      const { measure } = order.lines.find((one) => one.line === of)!;
      const text = written(sent, `lines/${row}/quantity`);
      const quantity = writtenAmount(text, measure === 'weighed');
      const supplierLot = written(sent, `lines/${row}/lot`);
      const expiresOn = written(sent, `lines/${row}/expires`);
      return {
        line,
        lots: [
          {
            quantity: measure === 'counted' && /^\d+$/.test(quantity) ? Number(quantity) : quantity,
            ...(supplierLot === undefined ? {} : { supplierLot }),
            ...(expiresOn === undefined ? {} : { expiresOn }),
          },
        ],
      };
    }),
  };
  return { body, rows };
}

/** Moves faults from the lines that were sent on to their rows in the form, and from parts of a line to its fields. */
export function atItsRow(fault: Fault, rows: readonly number[] | undefined): Fault {
  const fields = Object.entries(fault.fields).map(([place, detail]): [string, string] => [
    place
      .replace(/^lines\/(\d+)/, (whole, at: string) => (rows ? `lines/${rows[Number(at)] ?? at}` : whole))
      .replace(/\/parts\/0\/packs$/, '/packs')
      .replace(/\/parts\/0\/expectedOn$/, '/on')
      .replace(/\/parts\/1\/\w+$/, '/later')
      .replace(/\/priceE4$/, '/price')
      .replace(/\/lots\/0\/expiresOn$/, '/expires')
      .replace(/\/lots\/0\/supplierLot$/, '/lot')
      .replace(/\/lots\/0\/quantity$/, '/quantity')
      .replace(/^freightE4$/, 'freight'),
    detail,
  ]);
  return { ...fault, fields: Object.fromEntries(fields) };
}
