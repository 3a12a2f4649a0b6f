import type { LotBook } from '../../trace/lot-book.service.js';
import type { Fault, Sent } from '../../ui/form.js';
import type { Freed } from './elsewhere/freed.js';

export const LOT_SAID = [
  'received',
  'taken-out',
  'counted',
  'decided',
  'split',
  'examined',
  'date-right',
  'given-back',
] as const;

/** What was done before the page was opened, as its address says. */
export interface LotSaid {
  /** Of the ledger, counted from 1. */
  page: number;
  said?: (typeof LOT_SAID)[number];
  freed?: readonly Freed[];
  /** The lot that was split off. */
  part?: string;
  /** What a count found beside the book, in the item's base unit. */
  difference?: number;
}

/** The forms of the page, by the name in their address. */
export type LotForm = 'take-out' | 'count' | 'decide' | 'split' | 'examine' | 'date';

export interface LotViewProps {
  book: LotBook;
  said: LotSaid;
  currency: string;
  /** The form that was refused, as it was sent. */
  refused?: { form: LotForm; sent: Sent; fault: Fault };
}
