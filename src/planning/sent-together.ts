import { addDays, dayOf } from '../kernel/measure/day.js';
import type { Sends } from '../orders/sends.js';
import type { CoveredLine, CoverSource, PartSent } from './covered-line.js';

interface Days {
  sentAs: Sends;
  today: string;
  receivingDays: number;
}

/** The lines of one order by how it is sent: each by itself; all on the day of the last; or what is there first. */
export function asSent(lines: readonly CoveredLine[], days: Days): CoveredLine[] {
  if (days.sentAs === 'parts') return lines.map((line) => ({ ...line, parts: partsOf(line, days) }));
  return days.sentAs === 'complete' ? together(lines, days) : [...lines];
}

/** The day on which all of a line is there by what covers it; null where not all of it is covered. */
export function readyDay({ missing, unplanned, sources }: CoveredLine, days: Omit<Days, 'sentAs'>): string | null {
  return missing + unplanned > 0 ? null : sources.map((source) => thereOn(source, days)).reduce(later, days.today);
}

/** The day on which a source is there. */
const thereOn = ({ from, on }: CoverSource, { today, receivingDays }: Omit<Days, 'sentAs'>): string => {
  const day = on === null ? today : from === 'delivery' ? addDays(on, receivingDays) : on;
  return day > today ? day : today;
};

function partsOf(line: CoveredLine, days: Days): PartSent[] {
  const onDay = new Map<string, number>();
  for (const source of line.sources) {
    const there = thereOn(source, days);
    const on = line.notBefore !== null && line.notBefore > there ? line.notBefore : there;
    onDay.set(on, (onDay.get(on) ?? 0) + source.quantity);
  }
  return [...onDay].toSorted(([a], [b]) => (a < b ? -1 : 1)).map(([on, quantity]) => ({ on, quantity }));
}

/** What is open goes on the day of the last of it, and not at all as long as something is not covered. */
function together(lines: readonly CoveredLine[], days: Days): CoveredLine[] {
  const open = lines.filter((line) => line.open > 0);
  const lacking = open.find(({ missing, unplanned }) => missing + unplanned > 0);
  const ownDay = (line: CoveredLine): string =>
    [line.notBefore ?? '', ...line.sources.map((source) => thereOn(source, days))].reduce(later, days.today);
  const last = open.reduce<CoveredLine | undefined>(
    (one, other) => (one && ownDay(one) >= ownDay(other) ? one : other),
    undefined,
  );
  return lines.map((line) => {
    if (line.open === 0 || !last) return line;
    if (lacking) {
      const isWaiting = line.missing + line.unplanned === 0 || line.because === 'order';
      const first = open.find((other) => other.missing + other.unplanned > 0 && other.because !== 'order') ?? lacking;
      return isWaiting && first !== line ? { ...line, waitsFor: { name: first.name, readyOn: null } } : line;
    }
    const readyOn = ownDay(last);
    const lateDays = Math.max(0, dayOf(readyOn) - dayOf(line.shipBy));
    if (ownDay(line) === readyOn) return { ...line, lateDays, readyOn: lateDays > 0 ? readyOn : line.readyOn };
    return { ...line, readyOn, lateDays, waitsFor: { name: last.name, readyOn } };
  });
}

const later = (one: string, other: string): string => (other > one ? other : one);
