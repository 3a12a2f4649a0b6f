import type { FittingLot } from '../../bench/fitting-lot.js';
import type { BatchView } from '../../bench/bench.schema.js';
import type { BatchRecord } from '../../bench/record.schema.js';
import type { Fault, Sent } from '../../ui/form.js';
import type { Freed } from '../shelf/elsewhere/freed.js';

export const BATCH_SAID = [
  'weighed',
  'rescaled',
  'paused',
  'resumed',
  'finished',
  'released',
  'rejected',
  'worked-in',
  'mending',
  'taken-back',
] as const;

export type BatchForm =
  | 'weigh'
  | 'rescale'
  | 'pause'
  | 'resume'
  | 'finish'
  | 'release'
  | 'reject'
  | 'work-in'
  | 'mend'
  | 'take-back';

export interface BatchSaid {
  said?: (typeof BATCH_SAID)[number];
  line?: number;
  freed?: readonly Freed[];
}

export interface Refused {
  form: BatchForm;
  sent: Sent;
  fault: Fault;
  /** Another lot that may be weighed. */
  instead: FittingLot | null;
  /** What is asked before anything is written, by the field of the API that answers it. */
  asks: readonly string[];
}

export interface SheetProps {
  today: string;
  batch: BatchView;
  record: BatchRecord;
  said: BatchSaid;
  refused?: Refused;
}
