import type { Day } from '../measure/day.js';
import type { HeldUpBy } from './proposal.js';
import type { Placed } from './schedule-job.js';
import type { Spot, Timetable, TimetableJob } from './timetable.js';
import type { VesselDays } from './vessel-days.js';

const FOREVER = Number.POSITIVE_INFINITY;

/**
 * The day and the vessel of one batch: earliest first for stock and for what is to be early; else as late as is safe, else as
 * soon after as there is room. `afterAll`: in a vessel nobody has booked later on. Null where there is no room until
 * `goodUntil`.
 */
export function findSpot(
  table: Timetable,
  job: number,
  afterAll: boolean,
  goodUntil = lastDayGood(table, job),
): Spot | null {
  const row = table.jobs[job]!;
  const first = firstDay(table, job);
  // Stryker disable next-line ConditionalExpression,LogicalOperator: what is impossible finds no day, only later
  if (first === null || row.isImpossible) return null;
  // Stryker disable next-line ArithmeticOperator: days after the end have no minutes
  const last = Math.min(table.end - 1, lastDayWhileHeld(table, job), goodUntil);
  const vessels = vesselsFor(table, job);
  const lastFilled = lastFilledOf(table, row);
  let hasOnlyDirty = false;
  const spotOn = (day: Day, among = vessels): Spot | null => {
    if (!table.hasMinutes(day, row.minutes, row.few)) return null;
    if (row.vesselKind === null) return { day, vessel: null, to: day, heldUpBy: null };
    const to = Math.max(day + row.restDays, lastFilled);
    const vessel = vesselOn(table, job, day, afterAll ? FOREVER : to, among);
    if (vessel === DIRTY) hasOnlyDirty = true;
    return vessel && vessel !== DIRTY ? { day, vessel, to, heldUpBy: null } : null;
  };
  const isForStock = row.tier === 1;
  const isEarly = isForStock || table.guide.early[job]!;
  const late = (day: Day): HeldUpBy | null =>
    !isForStock && day > row.latest ? whyLate(table, job, first, day, hasOnlyDirty) : null;
  const pin = table.guide.pins?.[job];
  if (pin && pin.day >= first && pin.day <= last) {
    const among = vessels.filter(({ code }) => code === pin.vessel);
    const spot = spotOn(pin.day, among);
    if (spot) return { ...spot, heldUpBy: late(pin.day) };
  }
  if (!isEarly)
    for (let day = Math.min(row.latest, last); day >= first; day--) {
      const spot = spotOn(day);
      if (spot) return spot;
    }
  const from = isEarly
    ? Math.max(first, Math.min(first + table.guide.waits[job]!, last))
    : // Stryker disable next-line ArithmeticOperator: those before have been looked at
      Math.max(first, row.latest + 1);
  for (let day = from; day <= last; day++) {
    // Stryker disable next-line MethodExpression: it is only quicker
    if (vessels.length > 0) day = Math.max(day, soonestFree(vessels, day));
    const spot = day <= last ? spotOn(day) : null;
    if (spot) return { ...spot, heldUpBy: late(day) };
  }
  return null;
}

/** The first day everything is there that a batch is made of, and it keeps until it goes; null where a source has no day. */
function firstDay(table: Timetable, job: number): Day | null {
  const ready = sourcesReady(table, job);
  if (ready === null) return null;
  return Math.max(table.setting.start, table.guide.comes[job]!.earliest, table.jobs[job]!.freshFrom, ready);
}

/**
 * What kept a batch from its day once all have theirs: where a full bench did and has room now, that was for washing which
 * another pour in between made needless; where it gave its time to others, that may be the time of those who may make it.
 * What stays where it was shown though there is room before is kept back by nothing else.
 */
export function heldUpInAll(table: Timetable, job: number, { day, heldUpBy }: Placed): HeldUpBy | null {
  if (day === null || !isForRoom(heldUpBy)) return heldUpBy;
  const isAsShown = table.guide.pins?.[job]?.day === day;
  if (isAsShown && hasRoomWithin(table, job, firstDay(table, job)!, day - 1)) return 'as-shown';
  const { washing, crew } = table.setting;
  if (heldUpBy === 'no-vessel' || !(washing ?? crew)) return heldUpBy;
  return lacksMinutes(table, job, firstDay(table, job)!, day - 1) ?? (washing ? 'washing' : heldUpBy);
}

/** What kept a batch from its latest safe day. */
function whyLate(table: Timetable, job: number, first: Day, day: Day, hasOnlyDirty: boolean): HeldUpBy {
  const row = table.jobs[job]!;
  const { start } = table.setting;
  if (first > row.latest) {
    const { earliest, waitsFor } = table.guide.comes[job]!;
    if (first > start) {
      if (earliest === first) return waitsFor;
      return sourcesReady(table, job) === first ? 'source' : 'fresh';
    }
    if (firstOpen(table, first) >= day) return 'rest';
  }
  // what needs no vessel and waits although there is time gave that time to others
  if (row.vesselKind === null && row.few.length === 0) return 'bench-full';
  if (hasOnlyDirty) return 'washing';
  const lacking = lacksMinutes(table, job, first, Math.max(row.latest, day - 1));
  return lacking ?? (row.vesselKind === null ? 'bench-full' : 'no-vessel');
}

/** What left a batch without a day. */
export function whyNowhere(table: Timetable, job: number): HeldUpBy {
  const row = table.jobs[job]!;
  const ready = sourcesReady(table, job);
  if (ready === null) return 'source';
  if (row.minutes > table.setting.longestDay) return 'too-long';
  const whoever = whyByNobody(table, row);
  if (whoever) return whoever;
  if (row.vesselKind !== null && row.vessels.length === 0) return 'too-large';
  const first = Math.max(table.setting.start, table.guide.comes[job]!.earliest, ready);
  // then that it can only be washed on other days keeps it
  // Stryker disable next-line ArithmeticOperator: days after the end have no minutes
  const isDirty = table.setting.washing && row.vesselKind !== null && hasRoomWithin(table, job, first, table.end - 1);
  if (isDirty) return 'washing';
  // Stryker disable next-line ArithmeticOperator: as above
  return lacksMinutes(table, job, first, table.end - 1) ?? 'no-vessel';
}

/** Whether a day has a batch's minutes, and a vessel is free for it, if it needs one. */
function hasRoomWithin(table: Timetable, job: number, from: Day, to: Day): boolean {
  const { minutes, few, restDays, vesselKind, vessels } = table.jobs[job]!;
  for (let day = from; day <= to; day++) {
    if (!table.hasMinutes(day, minutes, few)) continue;
    if (vesselKind === null || vessels.some((vessel) => vessel.isFree(day, day + restDays))) return true;
  }
  return false;
}

const isForRoom = (heldUpBy: HeldUpBy | null): boolean =>
  heldUpBy === 'bench-full' || heldUpBy === 'skill-full' || heldUpBy === 'no-vessel';

/** Whose minutes no day from one to another has enough of for a batch; null where one has. */
function lacksMinutes(table: Timetable, job: number, from: Day, to: Day): 'bench-full' | 'skill-full' | null {
  const { minutes, few } = table.jobs[job]!;
  let lacking: 'bench-full' | 'skill-full' = 'bench-full';
  for (let day = from; day <= to; day++) {
    if (!table.hasMinutes(day, minutes)) continue;
    if (table.hasMinutes(day, minutes, few)) return null;
    lacking = 'skill-full';
  }
  return lacking;
}

/** Whether those who may make it never work as long as that; null where they do. */
function whyByNobody({ setting }: Timetable, { minutes, skill }: TimetableJob): HeldUpBy | null {
  if (!setting.crew || skill === undefined) return null;
  const longest = setting.crew.longestDay(skill);
  if (longest === 0) return 'nobody-may';
  return minutes > longest ? 'skill-short' : null;
}

function firstOpen({ setting }: Timetable, from: Day): Day {
  let day = from;
  while (day < from + 31 && setting.openMinutes(day) === 0) day++;
  return day;
}

/** The first day everything it draws from is ready; null when one of them has no day. */
function sourcesReady(table: Timetable, job: number): Day | null {
  let ready = Number.NEGATIVE_INFINITY;
  for (const source of table.jobs[job]!.sources) {
    const placed = table.placed[source.job];
    if (!placed || placed.ready === null) return null;
    ready = Math.max(ready, placed.ready);
  }
  return ready;
}

/** The last day on which everything it is made of is still good. */
export function lastDayGood(table: Timetable, job: number): Day {
  let last = table.jobs[job]!.goodUntil;
  for (const { job: source, after } of table.jobs[job]!.sources) {
    const day = table.placed[source]?.day ?? null;
    if (day !== null) last = Math.min(last, day + table.jobs[source]!.keepsDays - after);
  }
  return last;
}

/** The last day before one of the vessels it is filled from is booked again. */
function lastDayWhileHeld(table: Timetable, job: number): Day {
  let last = FOREVER;
  for (const source of table.jobs[job]!.sources)
    if (source.held) last = Math.min(last, (table.vesselTakenOn(source.job) ?? FOREVER) - 1);
  return last;
}

/** The last day on which something should be filled from the vessel it stands in. */
function lastFilledOf({ jobs, guide }: Timetable, { consumers }: TimetableJob): Day {
  let last = Number.NEGATIVE_INFINITY;
  for (const { held, job } of consumers) {
    const pin = guide.pins?.[job];
    if (held && (pin || !guide.early[job])) last = Math.max(last, pin?.day ?? jobs[job]!.latest);
  }
  return last;
}

/** Smallest first, but for those that it leaves to others. */
function vesselsFor({ jobs, guide }: Timetable, job: number): readonly VesselDays[] {
  const { vessels } = jobs[job]!;
  const left = guide.leaves[job]!;
  return left === 0 || vessels.length < 2
    ? vessels
    : [...vessels.slice(left % vessels.length), ...vessels.slice(0, left % vessels.length)];
}

/** That a vessel is free which the day has no minutes left to wash. */
const DIRTY = 'dirty';

/**
 * The first free vessel; where anything is said of washing, the first of those that need least of it. Which leaves vessels to
 * others takes the first that can be washed. Null where none is free.
 */
function vesselOn(
  table: Timetable,
  job: number,
  day: Day,
  to: Day,
  vessels: readonly VesselDays[],
): VesselDays | typeof DIRTY | null {
  if (!table.setting.washing) return vessels.find((one) => one.isFree(day, to)) ?? null;
  let [best, least]: [VesselDays | typeof DIRTY | null, number] = [null, FOREVER];
  for (const vessel of vessels) {
    if (!vessel.isFree(day, to)) continue;
    const minutes = table.washingIn(job, vessel, day);
    if (minutes < least) [best, least] = [vessel, minutes];
    best ??= DIRTY;
    if (least < FOREVER && table.guide.leaves[job]! > 0) break;
  }
  return best;
}

function soonestFree(vessels: readonly VesselDays[], day: Day): Day {
  let soonest = FOREVER;
  for (const vessel of vessels) soonest = Math.min(soonest, vessel.firstFree(day));
  return soonest;
}
