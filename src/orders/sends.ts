/**
 * How an order is sent: each line when all of it is ready; nothing of it before all of it can go; or of each line what is there
 * first, and the rest later.
 */
export const SENDS = ['lines', 'complete', 'parts'] as const;
export type Sends = (typeof SENDS)[number];

/** Of an order `o` of a channel `c`. */
export const SENT_AS = 'coalesce(o.sends, c.sends)';
