import { type Day, dayOf } from '../measure/day.js';
import { byText } from '../measure/text-order.js';
import type { PlanChoices } from './proposal.js';
import type { Pin } from './schedule-job.js';
import type { Snapshot } from './snapshot.js';

/** The pours of the plan last shown, from the first day of this one on. */
export interface ShownPours {
  /** By item, the first day first. */
  ofItem: ReadonlyMap<string, readonly Shown[]>;
  /** So many stand at one place, and whether that is today or on the next open day. */
  at: ReadonlyMap<string, { pours: number; isSoon: boolean }>;
  /** How that plan was made; null where that was as usual. */
  choices: PlanChoices | null;
}

export interface Shown extends Pin {
  key: string;
  output: number;
}

export const NOTHING_SHOWN: ShownPours = { ofItem: new Map(), at: new Map(), choices: null };

/** For how long a workshop may be closed until its next open day is not looked for. */
const CLOSED_MOST = 31;

/** What pours at the same place have in common. */
export const placeOf = (item: string, day: Day, vessel: string | null): string => `${item} ${day} ${vessel ?? ''}`;

export function shownOf(
  { shown }: Snapshot,
  { today, start, openMinutes }: { today: Day; start: Day; openMinutes: (day: Day) => number },
): ShownPours {
  let nextOpen = today + 1;
  // Stryker disable next-line EqualityOperator: about a month
  while (nextOpen < today + CLOSED_MOST && openMinutes(nextOpen) === 0) nextOpen++;
  const ofItem = new Map<string, Shown[]>();
  const at = new Map<string, { pours: number; isSoon: boolean }>();
  for (const row of shown?.pours ?? []) {
    const { key, item, vessel, output } = row;
    const day = dayOf(row.day);
    if (day < start) continue;
    const pours = ofItem.get(item) ?? [];
    ofItem.set(item, pours);
    pours.push({ key, day, vessel, output });
    const place = placeOf(item, day, vessel);
    at.set(place, { pours: (at.get(place)?.pours ?? 0) + 1, isSoon: day <= nextOpen });
  }
  for (const pours of ofItem.values()) pours.sort((a, b) => a.day - b.day || byText(a.key, b.key));
  return { ofItem, at, choices: shown?.choices ?? null };
}
