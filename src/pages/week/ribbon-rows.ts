import type { Week, WeekPour } from '../../planning/week.service.js';
import { shortDay } from '../../ui/dates.js';
import { restWord } from '../../ui/words.js';

/** What of a name fits into a day's width at the ribbon's type size. */
const NAME_LENGTH = 15;

/** What stands in one row of the ribbon from a day on. Days as ISO text. */
export interface RibbonBar {
  day: string;
  readyOn: string;
  /** The last day its vessel is taken. */
  until: string;
  label: string;
  title: string;
  kind: 'set' | 'proposed' | 'short' | 'standing';
}

export interface RibbonRow {
  name: string;
  bars: RibbonBar[];
}

/** One row a vessel that holds something that week, in their order; the last row is the bench, each day's fillings one bar. */
export function rowsOf(week: Week): RibbonRow[] {
  const vessels = new Set([...week.standing.map(({ vessel }) => vessel), ...week.pours.flatMap((p) => p.vessel ?? [])]);
  const rows = [...vessels].sort().map((name) => ({
    name,
    bars: [
      ...week.standing.filter(({ vessel }) => vessel === name).map((one) => standingBar(one, week.start)),
      ...week.pours.filter(({ vessel }) => vessel === name).map((pour) => pourBar(pour)),
    ],
  }));
  const bench = week.days.flatMap(({ day }) => benchBar(week, day));
  return bench.length > 0 ? [...rows, { name: 'bench', bars: bench }] : rows;
}

function benchBar(week: Week, day: string): RibbonBar[] {
  const pours = week.pours.filter((pour) => pour.vessel === null && pour.day === day);
  if (pours.length === 0) return [];
  const kind = pours.some(({ isShort }) => isShort) ? 'short' : kindOf(pours[0]!);
  const label = `${pours.length} on the bench`;
  return [{ day, readyOn: day, until: day, label, title: pours.map(({ name }) => name).join(', '), kind }];
}

function standingBar({ vessel, name, readyOn, until }: Week['standing'][number], start: string): RibbonBar {
  const title = `${name} stands in ${vessel} from before, until ${shortDay(until)}`;
  return { day: start, readyOn, until, label: shortName(name), title, kind: 'standing' };
}

function pourBar(pour: WeekPour): RibbonBar {
  const rest =
    pour.readyOn > pour.day ? `, ${restWord(pour.family, pour.vessel !== null)} until ${shortDay(pour.readyOn)}` : '';
  return {
    day: pour.day,
    readyOn: pour.readyOn,
    until: pour.emptiedOn,
    label: shortName(pour.name),
    title: `${pour.name} in ${pour.vessel} on ${shortDay(pour.day)}${rest}${pour.isShort ? ', something is short' : ''}`,
    kind: kindOf(pour),
  };
}

const kindOf = ({ isShort, status }: WeekPour): RibbonBar['kind'] =>
  isShort ? 'short' : status === 'proposed' ? 'proposed' : 'set';

const shortName = (name: string): string =>
  name.length > NAME_LENGTH ? `${name.slice(0, NAME_LENGTH - 1).trimEnd()}…` : name;
