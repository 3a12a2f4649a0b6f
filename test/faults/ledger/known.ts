import type { Kind } from './operation.js';

/** A whole number from zero up to, but not, `below`. */
export type Pick = (below: number) => number;

/** What the clients believe of a lot. The truth is the server's; a belief that is off is refused, or counts a loss. */
export interface KnownLot {
  code: string;
  item: string;
  lotOf: number;
  onHand: number;
  free: number;
  status: string;
}

export interface KnownLine {
  number: string;
  code: string;
  open: number;
  /** How much of it nobody has set aside yet. */
  lacking: number;
}

export interface KnownReservation {
  id: number;
  lot: KnownLot;
  line: KnownLine | undefined;
  quantity: number;
}

export interface KnownInput {
  batch: string;
  position: number;
  item: string;
  quantity: number;
}

/** Of each 10,000 operations. */
const WEIGHTS: Record<Exclude<Kind, 'commit'>, number> = {
  'set-aside': 3000,
  free: 1300,
  ship: 1600,
  weigh: 1300,
  count: 1300,
  hold: 450,
  release: 450,
  scrap: 350,
  receive: 100,
  order: 130,
  draft: 20,
};
export const KINDS = Object.entries(WEIGHTS) as [Kind, number][];
export const WEIGHT_SUM = KINDS.reduce((sum, [, weight]) => sum + weight, 0);
/** Every fourth act goes for one of the first few lots of its item, so that clients meet on them. */
export const HOT_ONE_IN = 4;
export const HOT_LOTS = 2;
export const REMEMBERED_MAX = 2000;

export interface SetAsideAnswer {
  id: number;
  lot: string;
  item: string;
  quantity: number;
  order: string | null;
}

/** Where a request says which order line it is about. */
export interface Named {
  number?: string;
  lines?: { lot: string; code: string }[];
  orderLine?: { number: string; code: string };
}

export const nameOf = ({ number, code }: KnownLine) => ({ channel: 'shop', number, code, occurrence: 1 });

export const distinct = (lots: KnownLot[]): KnownLot[] => [...new Set(lots)];

/** One of them, which is then no longer among them. */
export function taken<T>(list: T[], pick: Pick): T | undefined {
  if (list.length === 0) return undefined;
  return list.splice(pick(list.length), 1)[0];
}
