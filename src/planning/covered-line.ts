import type { Measure } from '../kernel/measure/quantity.js';
import type { LineCover } from '../kernel/plan/proposal.js';
import type { MeantSource } from './line-covers.js';

/** What covers part of an order line. */
export interface CoverSource extends MeantSource {
  /** False where the newest plan only means to use it. */
  isSetAside: boolean;
}

/** One order line and how far it is covered. Quantities in units of the item. */
export interface CoveredLine {
  code: string;
  occurrence: number;
  item: string;
  name: string;
  measure: Measure;
  quantity: number;
  shipped: number;
  cancelled: number;
  open: number;
  shipBy: string;
  notBefore: string | null;
  /** What is set aside first, then what the newest plan means to use. */
  sources: CoverSource[];
  /** Open units the newest plan found nothing for. */
  missing: number;
  /** Open units no plan has looked at yet. */
  unplanned: number;
  /** The last day something of it comes; null where all of it lies on the shelf, or it is not known. */
  readyOn: string | null;
  /** Days it comes after its ship-by. */
  lateDays: number;
  /** Why the newest plan is late or leaves some of it uncovered. */
  because: LineCover['because'];
  /** Its ship-by is over and something of it is open. */
  isOverdue: boolean;
  /** Of an order that is sent complete: what this line waits for. */
  waitsFor?: Waited;
  /** Of a line that is sent in parts: how much of what is covered goes on which day. */
  parts?: PartSent[];
}

/** The line of its order that another waits for. `readyOn`: null where it is not covered. */
export interface Waited {
  name: string;
  readyOn: string | null;
}

export interface PartSent {
  on: string;
  quantity: number;
}
