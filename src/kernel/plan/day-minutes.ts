import type { Day } from '../measure/day.js';
import { type Crew, type Few, minutesOpen } from './crew.js';
import type { ScheduleSetting } from './schedule-job.js';

const CLOSED = -1;

/** Minutes left of those who alone may do something, on each day that is looked at. */
export type FewMinutes = Int32Array;

const NO_FEW: readonly FewMinutes[] = [];

/** What each day has before anything is placed, from the first day on. */
interface FirstMinutes {
  all: Int32Array;
  few: ReadonlyMap<Few, FewMinutes>;
  /** The most of any day: of everybody, and of those. */
  most: number;
  mostOf: ReadonlyMap<Few, number>;
}

const known = new WeakMap<ScheduleSetting, FirstMinutes>();

/** Worked out once for all timetables of a setting, as far as any of them looks. */
function firstMinutes(setting: ScheduleSetting, end: Day): FirstMinutes {
  const found = known.get(setting);
  if (found && found.all.length >= end - setting.start) return found;
  const first = firstMinutesUntil(setting, end);
  known.set(setting, first);
  return first;
}

function firstMinutesUntil(setting: ScheduleSetting, end: Day): FirstMinutes {
  const { start, usedMinutes, usedByFew, crew } = setting;
  const eachDay = (leftOn: (day: Day) => number): Int32Array =>
    Int32Array.from({ length: end - start }, (_, i) => leftOn(start + i));
  const leftOf = (open: number, used: number | undefined): number =>
    open === 0 ? CLOSED : Math.max(0, open - (used ?? 0));
  const all = eachDay((day) => leftOf(minutesOpen(setting, day), usedMinutes.get(day)));
  const few = new Map(
    (crew?.few ?? []).map((some) => [
      some,
      eachDay((day) => leftOf(minutesOpen(setting, day, some), usedByFew?.get(some)?.get(day))),
    ]),
  );
  const mostIn = (minutes: Int32Array): number => minutes.reduce((most, left) => Math.max(most, left), CLOSED);
  return { all, few, most: mostIn(all), mostOf: new Map([...few].map(([some, minutes]) => [some, mostIn(minutes)])) };
}

/** What is left of each day: of everybody, and of those who alone may do something. Less than none where nobody is there. */
export class DayMinutes {
  private readonly left: Int32Array;
  private readonly atFirst: Int32Array;
  private readonly fewLeft: ReadonlyMap<Few, FewMinutes>;
  private readonly fewAtFirst: ReadonlyMap<Few, FewMinutes>;
  private readonly fewOf = new Map<string, readonly FewMinutes[]>();
  /** The most that any day has at first. */
  private readonly most: number;
  private readonly mostOfFew: ReadonlyMap<FewMinutes, number>;
  private readonly start: Day;
  private readonly crew: Crew | null;

  constructor(setting: ScheduleSetting, end: Day) {
    const { start, crew = null } = setting;
    this.start = start;
    this.crew = crew;
    const first = firstMinutes(setting, end);
    const until = (minutes: Int32Array): Int32Array => minutes.subarray(0, end - start);
    this.atFirst = until(first.all);
    this.fewAtFirst = new Map([...first.few].map(([few, minutes]) => [few, until(minutes)]));
    this.left = this.atFirst.slice();
    this.fewLeft = new Map([...this.fewAtFirst].map(([few, minutes]) => [few, minutes.slice()]));
    this.most = first.most;
    this.mostOfFew = new Map([...this.fewLeft].map(([few, minutes]) => [minutes, first.mostOf.get(few)!]));
  }

  /** Gives everything back. */
  reset(): void {
    this.left.set(this.atFirst);
    for (const [few, minutes] of this.fewAtFirst) this.fewLeft.get(few)!.set(minutes);
  }

  /** Whose minutes something takes that asks for this skill, beside everybody's. */
  fewFor(skill: string | undefined): readonly FewMinutes[] {
    if (!this.crew || skill === undefined) return NO_FEW;
    let found = this.fewOf.get(skill);
    if (!found) {
      found = this.crew.fewFor(skill).map((few) => this.fewLeft.get(few)!);
      this.fewOf.set(skill, found);
    }
    return found;
  }

  /** Whether any day could be long enough while nothing is placed: where it says no, none is. */
  everHad(minutes: number, few: readonly FewMinutes[]): boolean {
    return minutes <= this.most && few.every((some) => minutes <= this.mostOfFew.get(some)!);
  }

  has(day: Day, minutes: number, few: readonly FewMinutes[] = NO_FEW): boolean {
    const at = day - this.start;
    const left = this.left[at];
    // Stryker disable next-line ConditionalExpression: what is not looked at is no more than that either
    if (left === undefined || left < minutes) return false;
    for (let i = 0; i < few.length; i++) if (few[i]![at]! < minutes) return false;
    return true;
  }

  /** Less than none gives them back. */
  take(day: Day, minutes: number, few: readonly FewMinutes[]): void {
    const at = day - this.start;
    this.left[at]! -= minutes;
    for (let i = 0; i < few.length; i++) few[i]![at]! -= minutes;
  }
}
