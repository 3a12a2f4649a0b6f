import { addDays } from '../../src/kernel/measure/day.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net } from '../../src/kernel/plan/netting.js';
import type {
  Snapshot,
  SnapshotItem,
  SnapshotLine,
  SnapshotLot,
  SnapshotMaking,
} from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, item } from './workshop.js';

/** The day a number of days from the workshop's today, a Monday. */
export const day = (n: number): string => addDays(emptyWorkshop().today, n);

/** A workshop open every day that keeps no slack and weighs to the milligram. */
export function openShop(rest: Partial<Snapshot>, workshop: Partial<Snapshot['workshop']> = {}): Snapshot {
  const empty = emptyWorkshop(rest);
  const benchMinutes = [480, 480, 480, 480, 480, 480, 480];
  return { ...empty, workshop: { ...empty.workshop, benchMinutes, slackDays: 0, scaleStepMg: 1, ...workshop } };
}

export function netOf(snapshot: Snapshot, noRefill: readonly string[] = []) {
  const model = buildModel(snapshot);
  return { model, netted: net(model, new Set(noRefill)) };
}

export const product = (code: string, rest: Partial<SnapshotItem> = {}): SnapshotItem =>
  item(code, { kind: 'product', measure: 'counted', ...rest });
export const bulk = (code: string, rest: Partial<SnapshotItem> = {}): SnapshotItem =>
  item(code, { kind: 'bulk', ...rest });
export const counted = (code: string): SnapshotItem => item(code, { measure: 'counted' });

/** `expires`, as `due` below: days from today; null keeps. */
export const lot = (code: string, of: string, free: number, expires: number | null = null): SnapshotLot => ({
  code,
  item: of,
  free,
  onHand: free,
  valueE4: 0,
  expiresOn: expires === null ? null : day(expires),
});

/** A delivery. `on` and `expires`: days from today; null keeps. */
export const comes = (key: string, of: string, free: number, on: number, expires: number | null = null) => ({
  key,
  item: of,
  free,
  day: day(on),
  expiresOn: expires === null ? null : day(expires),
});

/** A batch in the making that is ready, and its vessel empty, on a day counted from today. */
export const beingMade = (
  of: string,
  free: number,
  ready: number,
  rest: Partial<SnapshotMaking> = {},
): SnapshotMaking => ({
  code: 'M',
  item: of,
  free,
  day: day(-5),
  readyOn: day(ready),
  emptiedOn: day(ready),
  vessel: null,
  minutes: 0,
  expiresOn: null,
  ...rest,
});

export const ordered = (key: string, of: string, quantity: number, due: number): SnapshotLine => ({
  key,
  item: of,
  quantity,
  shipBy: day(due),
  notBefore: null,
});
