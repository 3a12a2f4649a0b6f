import { type Day, dayOf } from '../measure/day.js';
import { byText } from '../measure/text-order.js';
import type { ItemModel, Model } from './model.js';
import type { PoolSupply } from './pool.js';
import type { Taken } from './proposal.js';
import { orderSentComplete } from './order-days.js';
import { batchMinutes, sheetFor } from './sheet.js';
import type { SnapshotFormula, SnapshotLine } from './snapshot.js';

/** One batch while it is being planned. */
export interface Job {
  key: string;
  item: ItemModel;
  formula: SnapshotFormula;
  output: number;
  putInMg: number;
  minutes: number;
  tier: 0 | 1;
  /** Latest day to start it so that everything it is for is in time, slack included. */
  latest: Day;
  /** Only for order lines that others are not to lack anything for: it takes what all others leave. */
  isApart: boolean;
  /** Only for order lines that are late anyway: it takes the room that all others leave. */
  isLater: boolean;
  /** It is for a line that takes of what is there before others. */
  isFirst: boolean;
  /** It is only for lines that take of what is there after others. */
  isLast: boolean;
  /** Known to begin no sooner; null where nothing is known. */
  begins: Day | null;
  /** Part of the output that customers' orders need. */
  forOrders: number;
  inputs: JobInput[];
  pegs: JobPeg[];
  /** Batches it draws from and batches that draw from it. */
  sources: BatchLink[];
  consumers: BatchLink[];
}

/**
 * `held`: drawn straight from the source's vessel, which stays busy until then. `after`: days from the day a batch is made
 * until it takes what it draws.
 */
export interface BatchLink {
  job: Job;
  held: boolean;
  after: number;
}

export interface JobInput {
  position: number;
  item: ItemModel;
  step: 'make' | 'fill' | 'pack';
  quantity: number;
  belowScale: boolean;
  fromJobs: { job: Job; quantity: number }[];
  /** Taken from batches of earlier plans. */
  fromMaking: { supply: PoolSupply; quantity: number }[];
  /** Still to be taken from lots and deliveries, once its day is known. */
  fromShelf: number;
  missing: number;
}

export interface JobPeg {
  line: LineState | null;
  job: Job | null;
  quantity: number;
}

/** An order line while it is being planned. */
export interface LineState {
  row: SnapshotLine;
  item: ItemModel;
  shipBy: Day;
  /** By then all that goes with it must be there; its own day, unless its order is sent complete. */
  needBy: Day;
  /** First day it may go; minus infinity where any day will do. */
  notBefore: Day;
  /** The day it goes, if it is in time. */
  goes: Day;
  /** All lines of its order, where nothing of that goes before all of it can; none where it goes by itself. */
  together: readonly LineState[];
  /** Its order goes without as a whole, or is late all the same: what is there is for others first. */
  isLast: boolean;
  /** Last day what is shipped must still be good for. */
  until: Day;
  taken: Taken[];
  fromMaking: PoolSupply[];
  fromJobs: { job: Job; quantity: number }[];
  /** For items nobody makes: still to be taken from the shelf. */
  fromShelf: number;
  missing: number;
  /** What is made for it cannot be given to the customer with the life that is owed. */
  isNeverFresh: boolean;
  /** As in the model. */
  place: number;
  /** What would be more than the plan holds, and is not made. */
  leftOut: number;
}

/** A batch that has its size; what it is for and where it takes things from is still to be said. */
export function newJob(
  model: Model,
  item: ItemModel,
  formula: SnapshotFormula,
  output: number,
  latest: Day,
  tier: 0 | 1,
  number: number,
): Job {
  const sheet = sheetFor(formula, output, (code) => model.items.get(code)!.row, model.snapshot.workshop);
  return {
    key: `${item.code}/${number}`,
    item,
    formula,
    output,
    putInMg: sheet.putInMg,
    minutes: batchMinutes(formula, output),
    tier,
    latest,
    isApart: false,
    isLater: false,
    isFirst: false,
    isLast: false,
    begins: null,
    forOrders: 0,
    inputs: formula.lines.flatMap((line, at) =>
      sheet.amounts[at] === 0
        ? []
        : [
            {
              position: line.position,
              item: model.items.get(line.item)!,
              step: line.step,
              quantity: sheet.amounts[at]!,
              belowScale: sheet.belowScale[at]!,
              fromJobs: [],
              fromMaking: [],
              fromShelf: 0,
              missing: 0,
            },
          ],
    ),
    pegs: [],
    sources: [],
    consumers: [],
  };
}

/** Customers' batches first, those that are due first before others. */
export const byDue = (a: Job, b: Job): number =>
  a.tier - b.tier || turnOf(a) - turnOf(b) || a.latest - b.latest || byText(a.key, b.key);

/** Those that others need not wait for come after these. */
const turnOf = ({ isApart, isLater }: Job): number => Number(isLater) + 2 * Number(isApart);

/** The day a batch should be made: not before the plan begins, or is known to allow. */
export const dueDay = (model: Model, job: Job): Day => Math.max(job.latest, model.start, job.begins ?? model.start);

/** Packing waits for the rest; everything else is taken on the day the batch is made. */
export const daysUntilTaken = (job: Job, { step }: JobInput): number => (step === 'pack' ? job.formula.restDays : 0);

/** A batch by its key and when it is due: its key alone is another batch's where others are sized otherwise. */
export const batchAt = ({ key, latest }: Job): string => `${key} ${latest}`;

/** Days an item may be used after the day it is made; infinity where it keeps. */
export const keepsDaysOf = ({ row }: ItemModel): number => row.shelfLifeDays ?? Number.POSITIVE_INFINITY;

/** Open order lines by their day. `goesOn`: those that are known to go no sooner; `apart` and `last`: as they were learned. */
export function openLines(
  model: Model,
  { goesOn, apart, last }: { goesOn: ReadonlyMap<string, Day>; apart: ReadonlySet<string>; last: ReadonlySet<string> },
): LineState[] {
  const ofOrder = new Map<string, LineState[]>();
  return model.lines.map(({ row, item, place, needBy, notBefore }): LineState => {
    const goes = Math.max(needBy, notBefore, model.start);
    const order = orderSentComplete(row);
    const together = order === null ? [] : (ofOrder.get(order) ?? []);
    const line: LineState = {
      row,
      item,
      shipBy: dayOf(row.shipBy),
      needBy,
      notBefore,
      goes,
      together,
      isLast: order !== null && (apart.has(row.key) || last.has(row.key)),
      until: Math.max(goes, goesOn.get(row.key) ?? goes) + item.row.owedLifeDays,
      taken: [],
      fromMaking: [],
      fromJobs: [],
      fromShelf: 0,
      missing: 0,
      isNeverFresh: false,
      place,
      leftOut: 0,
    };
    if (order !== null) {
      ofOrder.set(order, together);
      together.push(line);
    }
    return line;
  });
}
