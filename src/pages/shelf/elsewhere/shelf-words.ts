import type { Family } from '../../../catalog/item.entity.js';
import type { LotDateKind } from '../../../catalog/item.entity.js';
import type { Cause, LotStatus } from '../../../stock/stock.entity.js';

/** Families in the order of a shelf, as the maker calls them. */
export const FAMILY_WORDS: Record<Family, string> = {
  fragrance: 'Fragrances',
  base: 'Bases',
  container: 'Containers',
  label: 'Labels',
  spray: 'Sprays',
  body: 'Body and linen',
  diffuser: 'Diffusers',
  candle: 'Candles',
  soap: 'Soap',
  other: 'Everything else',
};

export const STATUS_WORDS: Record<LotStatus, string> = {
  quarantine: 'waits for release',
  released: 'may be used',
  held: 'on hold',
  rejected: 'rejected',
};

/** What a decision is called on its button. */
export const DECISION_WORDS: Record<LotStatus, string> = {
  quarantine: 'Let it wait',
  released: 'Release it',
  held: 'Put it on hold',
  rejected: 'Reject it',
};

export const DATE_WORDS: Record<LotDateKind, string> = {
  expiry: 'Expires after',
  'best-before': 'Best before',
  retest: 'To be examined by',
};

/** What moved, in the ledger of a lot. */
export const CAUSE_WORDS: Record<Cause, string> = {
  receipt: 'came in',
  consumption: 'weighed into a batch',
  production: 'made',
  shipment: 'shipped',
  return: 'came back',
  'return-to-supplier': 'sent back to the supplier',
  count: 'difference of a count',
  scrap: 'thrown away',
  sample: 'sample',
  trial: 'used in a trial',
  'own-use': 'own use',
  split: 'split',
  correction: 'correction',
  revaluation: 'late cost',
};

/** What a person may take out of a lot by hand. */
export const TAKEN_OUT = ['scrap', 'sample', 'own-use', 'trial', 'return-to-supplier'] as const;
export const TAKE_OUT_WORDS: Record<(typeof TAKEN_OUT)[number], string> = {
  scrap: 'Throw it away',
  sample: 'Sample',
  'own-use': 'Own use',
  trial: 'Use in a trial',
  'return-to-supplier': 'Send back to the supplier',
};
