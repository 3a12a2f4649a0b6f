/**
 * Where everything of a lot went, in its base unit. Corrected entries count nowhere. The first group is what there was to
 * account for, the second where it is now by the book.
 */
export interface Account {
  received: number;
  made: number;
  /** Came back from customers, of a lot that is such a part. */
  returned: number;
  /** Of a lot that was split off another. */
  splitFrom: number;
  /** More than the book said, at counts. */
  found: number;

  onShelf: number;
  usedInBatches: number;
  /** Trials, own use, and what was taken without a batch being named. */
  usedElsewhere: number;
  shipped: number;
  sampled: number;
  scrapped: number;
  sentToSupplier: number;
  splitOff: number;
  /** Less than the book said, at counts. */
  lost: number;
}

/** What was seen or said from outside the book: by who counted the shelf, by who received the parcels. */
export interface Evidence {
  /** Whether the lot was counted late enough; its shelf then is what the count and the entries since say. */
  isCounted: boolean;
  /** Of what was shipped, what recipients account for: used, kept, destroyed, or back here. */
  confirmed: number;
  /** Of what was shipped, what recipients say never came. */
  missing: number;
  /** What recipients say came beyond what was shipped. */
  surplus: number;
}

export interface Reconciled {
  /** What the two groups differ by; other than zero only where the ledger itself is broken. */
  bookDifference: number;
  /** Nobody counted or answered yet. */
  unconfirmed: number;
  /** More or less than there should be, by counts and answers; more is above zero. */
  unexplained: number;
  /** Of what there was, the part that is confirmed and explained. 1e9 is all. */
  ppb: number;
}

const WHOLE_PPB = 1_000_000_000n;

/** All that came in, what was found at counts left out: that is no source, it is a difference. */
export function cameIn(account: Account): number {
  return account.received + account.made + account.returned + account.splitFrom;
}

/**
 * Judges an account by what was seen from outside: not counted is not confirmed, not answered is not confirmed, and what a
 * count or an answer found to differ is unexplained, whichever way, and so is not reconciled. Rounded down.
 */
export function reconcile(account: Account, evidence: Evidence): Reconciled {
  const { onShelf, usedInBatches, usedElsewhere, shipped, sampled, scrapped, sentToSupplier, splitOff } = account;
  const into = cameIn(account);
  const out = usedInBatches + usedElsewhere + shipped + sampled + scrapped + sentToSupplier + splitOff + account.lost;
  const bookDifference = into + account.found - onShelf - out;
  const unanswered = Math.max(0, shipped - evidence.confirmed - evidence.missing);
  const unconfirmed = unanswered + (evidence.isCounted ? 0 : onShelf);
  const counted = account.found - account.lost;
  const open = unconfirmed + Math.abs(counted) + evidence.missing + evidence.surplus + Math.abs(bookDifference);
  const whole = Math.max(into, open);
  const ppb = whole === 0 ? Number(WHOLE_PPB) : Number((BigInt(whole - open) * WHOLE_PPB) / BigInt(whole));
  return { bookDifference, unconfirmed, unexplained: counted - evidence.missing + evidence.surplus, ppb };
}
