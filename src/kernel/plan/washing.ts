import type { Snapshot, SnapshotVessel, SnapshotWashing, WashedThing } from './snapshot.js';

/** Which vessel is asked about. */
type Vessel = Pick<SnapshotVessel, 'code' | 'kind'>;

/** How exactly a row names what stood in a vessel, and what is poured next: its scent 2, its family 1, anything 0. */
type Exactness = readonly [after: number, before: number];

/** The most exact first; of two as exact, the one that says more of what has to come off. */
const MOST_EXACT_FIRST: readonly Exactness[] = [
  [2, 2],
  [2, 1],
  [1, 2],
  [2, 0],
  [1, 1],
  [0, 2],
  [1, 0],
  [0, 1],
  [0, 0],
];

/** What an item can be named by in a row: as anything, by its family, by its scent. */
type Names = readonly [anything: string, family: string | null, scent: string | null];

const UNKNOWN: Names = ['', null, null];

/**
 * Minutes to wash a vessel between two things, as a workshop says it. A row for one vessel counts before one for its kind,
 * that before one for any vessel; then the one that names most exactly what is washed off and what comes next. What no row
 * is for needs nothing. Nor do equals: an item after itself, or after another of its family and its scent, but by a row that
 * names the same on both sides.
 */
export class Washing {
  private readonly minutesOf: ReadonlyMap<string, number>;
  private readonly namesOf: ReadonlyMap<string, Names>;
  private readonly known = new Map<string, Map<string, Map<string, number>>>();

  constructor({ rows, items }: Pick<SnapshotWashing, 'rows' | 'items'>) {
    this.minutesOf = new Map(
      rows.map(({ vessel, kind, after, before, minutes }) => [
        rowKey(vesselName(vessel, kind), thingName(after), thingName(before)),
        minutes,
      ]),
    );
    this.namesOf = new Map(
      items.map(({ code, family, scent }) => [
        code,
        ['', thingName({ family, scent: null }), scent === null ? null : thingName({ family: null, scent })],
      ]),
    );
  }

  /** `after`: the item that stood in the vessel; null where none is known, and nothing has to come off. */
  minutes(vessel: Vessel, after: string | null, before: string): number {
    if (after === null) return 0;
    const ofVessel = entryOf(this.known, vessel.code);
    const ofAfter = entryOf(ofVessel, after);
    const known = ofAfter.get(before);
    if (known !== undefined) return known;
    const minutes = this.lookUp(vessel, after, before);
    ofAfter.set(before, minutes);
    return minutes;
  }

  /** The most that an item can need in one of these vessels, whatever stood in it. */
  most(vessels: readonly Vessel[], before: string): number {
    let most = 0;
    for (const vessel of vessels)
      for (const after of this.namesOf.keys()) most = Math.max(most, this.minutes(vessel, after, before));
    return most;
  }

  private lookUp(vessel: Vessel, after: string, before: string): number {
    const [off, on] = [this.namesOf.get(after) ?? UNKNOWN, this.namesOf.get(before) ?? UNKNOWN];
    const isEqual = after === before || (off[2] !== null && off[2] === on[2] && off[1] === on[1]);
    for (const where of [vesselName(vessel.code, null), vesselName(null, vessel.kind), ''])
      for (const [exactOff, exactOn] of MOST_EXACT_FIRST) {
        const [nameOff, nameOn] = [off[exactOff]!, on[exactOn]!];
        if (nameOff === null || nameOn === null) continue;
        // of what is equal, only a row that says so
        if (isEqual && (nameOff !== nameOn || nameOff === '')) continue;
        const minutes = this.minutesOf.get(rowKey(where, nameOff, nameOn));
        if (minutes !== undefined) return minutes;
      }
    return 0;
  }
}

const rowKey = (vessel: string, after: string, before: string): string => `${vessel}\n${after}\n${before}`;

const vesselName = (vessel: string | null, kind: string | null): string =>
  vessel === null ? (kind === null ? '' : `kind ${kind}`) : `vessel ${vessel}`;

const thingName = ({ family, scent }: WashedThing): string =>
  scent === null ? (family === null ? '' : `family ${family}`) : `scent ${scent}`;

function entryOf<Value>(maps: Map<string, Map<string, Value>>, key: string): Map<string, Value> {
  let entry = maps.get(key);
  if (!entry) maps.set(key, (entry = new Map()));
  return entry;
}

/** What a plan's washing is by; null where the workshop says nothing of it. */
export const washingOf = ({ washing }: Snapshot): Washing | null =>
  washing && washing.rows.length > 0 ? new Washing(washing) : null;
