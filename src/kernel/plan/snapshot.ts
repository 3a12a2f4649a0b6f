import type { PlanChoices } from './proposal.js';
import type { Term } from './terms.js';

/**
 * What the plan is made from: plain rows, read in one database snapshot. Days are ISO 8601 text, amounts integers in the
 * item's base unit (milligrams or units), money in 1/10 000 of the currency unit, fractions in parts per billion.
 * The order of rows never matters.
 */
export interface Snapshot {
  today: string;
  /** First of the seven days being planned. */
  weekStart: string;
  workshop: SnapshotWorkshop;
  items: SnapshotItem[];
  /** The current formula of each made item; at most one per item. */
  formulas: SnapshotFormula[];
  vessels: SnapshotVessel[];
  lots: SnapshotLot[];
  deliveries: SnapshotDelivery[];
  /** Batches of committed runs that are not closed yet. */
  making: SnapshotMaking[];
  /** Open, confirmed order lines; `quantity` is what nothing is reserved for yet. */
  lines: SnapshotLine[];
  packs: SnapshotPack[];
  /** Use over the last 28 days of items that have at least so much history; others are unknown. */
  use: SnapshotUse[];
  /** Who works here; nothing where nobody is said, and the workshop's minutes count. */
  people?: SnapshotPerson[];
  /** What must be washed between two pours; nothing where the workshop says nothing of it. */
  washing?: SnapshotWashing;
  /** What the plan last shown says of days from this one's first on; nothing where none was. */
  shown?: SnapshotShown;
}

/** Somebody who works here. */
export interface SnapshotPerson {
  name: string;
  /** Monday first; 0 is a day they are not here. */
  minutes: number[];
  /** What they may do that not all may. */
  skills: string[];
}

export interface SnapshotWashing {
  rows: SnapshotWashingRow[];
  /** What stands in vessels, or did. */
  items: { code: string; family: string; scent: string | null }[];
  /** What was last emptied out of a vessel; none where nothing was. */
  held: { vessel: string; item: string }[];
  /** Batches in the making of whose minutes so many are for washing their vessel first. */
  making: { code: string; minutes: number }[];
}

/** For one vessel, or all of a kind; with neither, for any. */
export interface SnapshotWashingRow {
  vessel: string | null;
  kind: string | null;
  after: WashedThing;
  before: WashedThing;
  minutes: number;
}

/** What has one scent, or is of one family; with neither, anything. */
export interface WashedThing {
  family: string | null;
  scent: string | null;
}

export interface SnapshotShown {
  /** What is not begun yet, and nothing is set aside for. */
  pours: readonly SnapshotPour[];
  /** How that plan was made, where that was not as usual. */
  choices?: PlanChoices | null;
}

export interface SnapshotPour {
  /** As it was called in that plan. */
  key: string;
  item: string;
  day: string;
  vessel: string | null;
  output: number;
}

export interface SnapshotWorkshop {
  /** Monday first; 0 is a closed day. They count where nobody is said to work here. */
  benchMinutes: number[];
  closedDays: string[];
  /** Days between being ready and having to ship that a plan tries to keep. */
  slackDays: number;
  /** Days from a delivery's arrival until its goods may be used. */
  receivingDays: number;
  scaleStepMg: number;
  scaleLeastMg: number;
  /** Which terms of what plans cost count before all others, the first first; nothing where they count as usual. */
  terms?: readonly Term[] | null;
}

export interface SnapshotItem {
  code: string;
  kind: 'material' | 'bulk' | 'product' | 'set';
  measure: 'weighed' | 'counted';
  policy: 'to-order' | 'to-stock' | 'seasonal' | 'discontinued';
  target: number;
  seasonFrom: string | null;
  seasonTo: string | null;
  /** False for what comes from the tap: never short, never reserved. */
  stocked: boolean;
  shelfLifeDays: number | null;
  /** Life that must be left on the day it ships. */
  owedLifeDays: number;
}

export interface SnapshotFormula {
  item: string;
  version: number;
  vesselKind: string | null;
  batchMin: number;
  batchMax: number | null;
  batchMultiple: number;
  lossPpb: number;
  residueMg: number;
  minutesBatch: number;
  secondsUnit: number;
  restDays: number;
  /** What whoever makes it must be able to do; nothing where anybody may. */
  skill?: string;
  lines: SnapshotFormulaLine[];
}

export interface SnapshotFormulaLine {
  position: number;
  item: string;
  /** `part`: parts per billion of the weight put in; `each`: per unit made; `fixed`: per batch. */
  basis: 'part' | 'each' | 'fixed';
  amount: number;
  step: 'make' | 'fill' | 'pack';
}

export interface SnapshotVessel {
  code: string;
  kind: string;
  capacityMg: number;
}

export interface SnapshotLot {
  code: string;
  item: string;
  /** Released, not reserved, less what the container keeps. */
  free: number;
  onHand: number;
  valueE4: number;
  expiresOn: string | null;
}

export interface SnapshotDelivery {
  key: string;
  item: string;
  free: number;
  day: string;
  expiresOn: string | null;
}

export interface SnapshotMaking {
  code: string;
  item: string;
  /** Output not promised to anything yet. */
  free: number;
  day: string;
  readyOn: string;
  emptiedOn: string;
  vessel: string | null;
  minutes: number;
  expiresOn: string | null;
  /** As its formula says it. */
  skill?: string;
}

export interface SnapshotLine {
  key: string;
  item: string;
  quantity: number;
  shipBy: string;
  /** The first day the customer takes it; null where any day will do. */
  notBefore: string | null;
  /** How much it counts that this line is in time, beside others; 1 unless said. */
  weight?: number;
  /** Before all that is not, whatever that weighs. */
  urgent?: boolean;
  /** How its order is sent; where nothing is said each line goes by itself, when all of it is ready. */
  sends?: Sends;
  /** Of an order that is sent complete: its name, the same for all its lines. */
  order?: string;
  /** Of such an order: the day on which all is there that is set aside for it, and may go; null where that is today. */
  asideOn?: string | null;
}

/** Nothing of an order before all of it can go; or of each line what is there first, and the rest later. */
export type Sends = 'complete' | 'parts';

export interface SnapshotPack {
  key: string;
  item: string;
  size: number;
  priceE4: number;
  leastPacks: number;
  leadDays: number;
}

export interface SnapshotUse {
  item: string;
  per28Days: number;
}
