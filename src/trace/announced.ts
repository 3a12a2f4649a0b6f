import { tradeIdOf } from '../kernel/trace/gs1.js';
import type { EpcisImport, ImportedEvent } from './epcis.schema.js';

/** A lot that a document speaks of, as it was said last. */
export interface SaidLot {
  epcClass: string;
  gtin: string;
  lot: string;
  /** In the unit said; null where none is: pieces. */
  quantity: number;
  uom: string | null;
  expiresOn: string | null;
  eventId: string;
}

export interface Said {
  lots: SaidLot[];
  leftAside: { epcClass: string; why: string }[];
}

/** Which steps tell what comes here, the best first: shipped, packed, made, seen. */
const STEPS = ['shipping', 'departing', 'packing', 'commissioning', 'creating_class_instance'];

/**
 * The lots a document says are on their way: of each the quantity of the event that is nearest to leaving, the latest of
 * those. What was declared an error counts not, what went into something else neither. Expiry may be said by any event
 * that names the lot.
 */
export function lotsSaid(document: EpcisImport): Said {
  const events = document.epcisBody.eventList.filter(({ errorDeclaration }) => errorDeclaration === undefined);
  const said = new Map<string, { lot: SaidLot; rank: number; time: number }>();
  const expiries = new Map<string, string>();
  const leftAside = new Map<string, string>();
  for (const event of events)
    for (const { epcClass, quantity, uom } of quantitiesOf(event)) {
      const id = tradeIdOf(epcClass);
      const expiresOn = expiryOf(event.ilmd);
      if (!id) leftAside.set(epcClass, 'It is not an identifier of a trade item and its lot.');
      else if (id.lot === undefined) leftAside.set(epcClass, 'It names no lot.');
      else if (quantity === undefined) leftAside.set(epcClass, 'It says no quantity.');
      else {
        const key = `${id.gtin} ${id.lot}`;
        if (expiresOn !== null) expiries.set(key, expiresOn);
        const rank = STEPS.indexOf(stepOf(event.bizStep));
        const told = { rank: rank < 0 ? STEPS.length : rank, time: Date.parse(event.eventTime) };
        const known = said.get(key);
        if (known && (known.rank < told.rank || (known.rank === told.rank && known.time >= told.time))) continue;
        const eventId = event.eventID ?? '';
        const lot = { epcClass, gtin: id.gtin, lot: id.lot, quantity, uom: uom ?? null, expiresOn: null, eventId };
        said.set(key, { lot, ...told });
      }
    }
  return {
    lots: [...said].map(([key, { lot }]) => ({ ...lot, expiresOn: expiries.get(key) ?? null })),
    leftAside: [...leftAside].map(([epcClass, why]) => ({ epcClass, why })),
  };
}

function quantitiesOf(event: ImportedEvent) {
  if (event.type === 'ObjectEvent') return event.action === 'DELETE' ? [] : (event.quantityList ?? []);
  if (event.type === 'AggregationEvent') return event.action === 'DELETE' ? [] : (event.childQuantityList ?? []);
  return event.type === 'TransformationEvent' ? (event.outputQuantityList ?? []) : [];
}

/** The bare word, or the last part of the address of one. */
function stepOf(bizStep: string | undefined): string {
  return bizStep?.split(/[:/-]/).at(-1)?.toLowerCase() ?? '';
}

const EXPIRY = /(?:^|[:/#])(?:itemExpirationDate|bestBeforeDate|expirationDate|sellByDate)$/;

function expiryOf(ilmd: Record<string, unknown> | undefined): string | null {
  for (const [name, value] of Object.entries(ilmd ?? {}))
    if (EXPIRY.test(name) && typeof value === 'string' && isDay(value.slice(0, 10))) return value.slice(0, 10);
  return null;
}

function isDay(text: string): boolean {
  return (
    /^\d{4}-\d{2}-\d{2}$/.test(text) && !Number.isNaN(Date.parse(text)) && new Date(text).toISOString().startsWith(text)
  );
}

/** Milligrams or grams a unit code stands for; UN/ECE Recommendation 20 (KGM seen in GS1's examples, the rest from memory). */
const MG: Record<string, number> = { KGM: 1_000_000, GRM: 1_000, MGM: 1, LBR: 453_592.37, ONZ: 28_349.523125 };
const UL: Record<string, number> = { LTR: 1_000_000, MLT: 1_000 };
const PIECES = new Set(['H87', 'EA', 'C62', 'PCE']);

/**
 * A quantity in the base unit of an item: milligrams, or pieces. Volumes need the density, in micrograms per millilitre.
 * Undefined where it is of another kind or no whole pieces; weights are rounded to the milligram.
 */
export function baseQuantity(
  { quantity, uom }: Pick<SaidLot, 'quantity' | 'uom'>,
  item: { measure: 'weighed' | 'counted'; densityUgPerMl: number | null },
): number | undefined {
  let base: number | undefined;
  if (item.measure === 'counted') base = uom === null || PIECES.has(uom) ? quantity : undefined;
  else if (uom !== null && MG[uom] !== undefined) base = Math.round(quantity * MG[uom]);
  else if (uom !== null && UL[uom] !== undefined && item.densityUgPerMl !== null)
    // microlitres times micrograms per millilitre are thousandths of a microgram each: a million to the milligram
    base = Math.round((quantity * UL[uom] * item.densityUgPerMl) / 1_000_000);
  return base !== undefined && Number.isSafeInteger(base) && base > 0 ? base : undefined;
}
