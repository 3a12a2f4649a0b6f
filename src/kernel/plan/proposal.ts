/**
 * What the plan answers: plain data, free of ids and instants. Amounts, money and days as in the snapshot. Rows are in a
 * fixed order, so that the same question gives the same bytes.
 */
export interface Proposal {
  today: string;
  weekStart: string;
  /** Last of the seven days. */
  weekEnd: string;
  batches: ProposedBatch[];
  lines: LineCover[];
  needs: MaterialNeed[];
  shortfalls: Shortfall[];
  atRisk: AtRisk[];
  days: DayLoad[];
  /** Batches in the making that need more washing, since the plan puts something else into their vessel before them. */
  rewashed?: Rewashed[];
  /** Only where not all of it has room. */
  full?: PlanFull;
  /** How it was made, only where that is not as usual: so the next one can be made alike. */
  choices?: PlanChoices;
}

export interface PlanChoices {
  /** How batches of an item are sized; `most`: null where no less than what fits. */
  sizes: { item: string; windowDays: number; most: number | null; mix: number }[];
  /** Order lines whose batches take the room that all others leave. */
  later: string[];
}

/** Washing its vessel first, after what stood there. `after`: an item. */
export interface Wash {
  minutes: number;
  after: string;
}

/** `minutes`: in all; `more` of them than it has. */
export interface Rewashed extends Wash {
  batch: string;
  day: string;
  more: number;
}

/**
 * A plan holds so many batches and no more. Order lines that it has no room for, all or in part, say `plan-full`; they go
 * before stock, and those first that are to ship first. What of stock targets it has no room for is listed.
 */
export interface PlanFull {
  batchesMost: number;
  refills: { item: string; quantity: number }[];
}

export interface ProposedBatch {
  /** Item code and running number, unique in the proposal: `BLK-CEDAR/1`. */
  key: string;
  item: string;
  formulaVersion: number;
  /** What is meant to come out: milligrams of a bulk, units of a product. */
  output: number;
  /** Where that is less than the formula's least, what allows no more; null elsewhere. */
  belowLeast: SizeLimit | null;
  /** The weight put in: the sum of its weighed inputs inside the 100 %. */
  putInMg: number;
  /** Null when no day or vessel could be found. */
  day: string | null;
  readyOn: string | null;
  /** Last day its vessel is busy. */
  emptiedOn: string | null;
  vessel: string | null;
  /** Where its vessel is emptied before all that it is for is made; null elsewhere. */
  decant: Decant | null;
  /** At the bench on its day, washing included. */
  minutes: number;
  /** What of that is for washing its vessel first; only where it needs any. */
  wash?: Wash;
  restDays: number;
  /** Last day of the output, from the item's shelf life; null when it keeps. */
  expiresOn: string | null;
  /** Poured, filled or packed in the planned week. */
  inWeek: boolean;
  /** The day it should have been started to be in time with slack. */
  latestDay: string;
  /** How much of the output orders need; the rest fills stock. */
  forOrders: number;
  heldUpBy: HeldUpBy | null;
  /** True when an input, or a batch it is made from, is missing. */
  short: boolean;
  inputs: BatchInput[];
  madeFor: Peg[];
}

/**
 * Why a batch is later than it should be, or has no day: `washing` where a vessel was free and the day had no minutes left to
 * wash it too, or washing others left it none, `skill-full` where others had minutes left and those who may make it had none, `fresh` where it is made no sooner so that it keeps until all its orders go, `too-long` for any day,
 * `as-shown` where it stays where it was shown though there is room before,
 * `skill-short` for those who may make it, `nobody-may` where nobody may, `too-large` for any vessel, `expires`
 * where what it is made of is over before there is room for it.
 */
export type HeldUpBy =
  | 'bench-full'
  | 'skill-full'
  | 'no-vessel'
  | 'as-shown'
  | 'washing'
  | 'fresh'
  | 'delivery'
  | 'rest'
  | 'source'
  | 'too-long'
  | 'skill-short'
  | 'nobody-may'
  | 'too-large'
  | 'expires';

/**
 * What bounds a batch's size: the formula's own largest batch and its steps, the largest vessel of its kind, the longest
 * day at the bench, that of those who may make it, or a batch of what it is filled from.
 */
export type SizeLimit = 'formula' | 'vessel' | 'bench' | 'people' | 'source';

/**
 * Into another container on that day, for something is drawn of it later. `for`: the batch that needs its vessel meanwhile;
 * null where none does.
 */
export interface Decant {
  on: string;
  for: string | null;
}

export interface BatchInput {
  position: number;
  item: string;
  step: 'make' | 'fill' | 'pack';
  needOn: string | null;
  quantity: number;
  stocked: boolean;
  /** True where the weight is under the smallest the workshop's scale can weigh. */
  belowScale: boolean;
  taken: Taken[];
  /** What no lot, delivery or batch covers. */
  missing: number;
}

export interface Taken {
  from: 'lot' | 'delivery' | 'batch' | 'making';
  key: string;
  quantity: number;
}

export interface Peg {
  for: 'line' | 'batch' | 'stock';
  /** Order line key, batch key, or the item's code for its stock. */
  key: string;
  quantity: number;
}

export interface LineCover {
  key: string;
  item: string;
  quantity: number;
  shipBy: string;
  notBefore: string | null;
  taken: Taken[];
  missing: number;
  /** The day all of it can ship, not before the customer takes it; null while something is missing. */
  readyOn: string | null;
  lateDays: number;
  /**
   * Why it is late or not covered; `order` where only others keep it back with which it goes, `overdue` where it should have gone before today, `never-fresh` where its item rests so
   * long that it has less life left than the customer is owed, `plan-full` where it would be more batches than a plan holds.
   */
  because: HeldUpBy | 'short' | 'no-formula' | 'overdue' | 'never-fresh' | 'plan-full' | 'order' | null;
  /** Of an order that is sent complete: the line the others wait for, where this is another; nothing where there is none. */
  waitsFor?: WaitedFor;
  /** Of a line that is sent in parts: how many go on which day, the first first. What is missing is in none. */
  parts?: LinePartSent[];
}

/** `readyOn`: null where it is not covered. */
export interface WaitedFor {
  line: string;
  item: string;
  readyOn: string | null;
}

export interface LinePartSent {
  on: string;
  quantity: number;
}

export interface MaterialNeed {
  item: string;
  /** Sum of what the batches and order lines of the whole outlook need. */
  quantity: number;
  inWeek: number;
  fromLots: number;
  fromDeliveries: number;
  missing: number;
  byDay: { day: string; quantity: number }[];
}

export interface Shortfall {
  item: string;
  quantity: number;
  needOn: string;
  hurts: { lines: string[]; batches: string[] };
  /** Cheapest packs that cover it; empty when no supplier's pack is known. */
  packs: { key: string; count: number }[];
  packsTotal: number;
  costE4: number;
  /** How far from the cheapest the choice may be, at most; 0 is exact. */
  gapE4: number;
  /** Last day an order placed would still be in time; null when nobody is known to sell it. */
  orderBy: string | null;
  tooLate: boolean;
}

export interface AtRisk {
  lot: string;
  item: string;
  expiresOn: string;
  /** What is expected to be left on that day; null when the item has no history to judge by. */
  left: number | null;
  /** Free now, less what this plan uses. */
  freeAfterPlan: number;
  valueE4: number | null;
  usableIn: string[];
}

export interface DayLoad {
  day: string;
  minutesOpen: number;
  minutesUsed: number;
}
