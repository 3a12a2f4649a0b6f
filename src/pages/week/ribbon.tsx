import { scaleLinear } from 'd3-scale';
import { area, curveStepAfter } from 'd3-shape';
import { dayOf } from '../../kernel/measure/day.js';
import type { Week, WeekPour } from '../../planning/week.service.js';
import { restWord } from '../../ui/words.js';
import { shortDay } from '../../ui/dates.js';

const WIDTH = 1120;
const LABELS = 110;
const HEAD = 56;
const ROW = 30;
const FOOT = 10;
/** How much of a day's width a pour takes. */
const POUR_WIDTH = 0.95;
/** What of a name fits into that at the ribbon's type size. */
const NAME_LENGTH = 15;

/**
 * The week ribbon: seven days, pours as bars across vessels, a thin tail for the rest towards the release day, ticks for
 * ship-by dates, and behind each day the bench minutes used as height. The same is said in a table for those who cannot
 * see it.
 */
export function Ribbon({ week }: { week: Week }): JSX.Element {
  const rows = rowsOf(week);
  const height = HEAD + Math.max(1, rows.length) * ROW + FOOT;
  const x = scaleLinear([0, 7], [LABELS, WIDTH]);
  const first = dayOf(week.start);
  const at = (iso: string): number => x(dayOf(iso) - first);
  const most = Math.max(1, ...week.days.map((day) => Math.max(day.minutesOpen, day.minutesUsed)));
  const y = scaleLinear([0, most], [height - FOOT, HEAD]);
  const load = area<{ day: string; minutesUsed: number }>()
    .x((day) => at(day.day))
    .y0(height - FOOT)
    .y1((day) => y(day.minutesUsed))
    .curve(curveStepAfter);
  const last = { ...week.days[6]!, day: '' };
  const shape = load([...week.days]) ?? '';
  return (
    <figure class="ribbon" tabindex="0" aria-label="The week ribbon, scrollable">
      <svg viewBox={`0 0 ${WIDTH} ${height}`} role="img" aria-labelledby="ribbon-title">
        <title id="ribbon-title" safe>
          {`The week from ${shortDay(week.start)} to ${shortDay(week.end)}: the table below says the same`}
        </title>
        <defs>
          <pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <line class="hatch" x1="0" y1="0" x2="0" y2="8" />
          </pattern>
        </defs>
        <path class="fill" d={shape} />
        <rect
          class="fill"
          x={String(x(6))}
          y={String(y(last.minutesUsed))}
          width={String(x(1) - x(0))}
          height={String(Math.max(0, height - FOOT - y(last.minutesUsed)))}
        />
        {week.days.map((day, i) => (
          <>
            <line class="line" x1={String(x(i))} y1="0" x2={String(x(i))} y2={String(height)} />
            <text x={String(x(i) + 8)} y="20" font-weight="600" safe>
              {shortDay(day.day)}
            </text>
            <text class="soft" x={String(x(i) + 8)} y="38" safe>
              {day.minutesOpen === 0 ? 'closed' : `${day.minutesUsed} of ${day.minutesOpen} min`}
            </text>
          </>
        ))}
        {week.shipBy.map((ship) => (
          <>
            <line class="tick" x1={String(at(ship.day) + 4)} y1="44" x2={String(at(ship.day) + 4)} y2="54" />
            <text class="soft" x={String(at(ship.day) + 8)} y="54" safe>
              {`ship ${ship.lines}`}
            </text>
          </>
        ))}
        {rows.map((row, r) => (
          <>
            <text class="soft" x="8" y={String(HEAD + r * ROW + 19)} safe>
              {row.name}
            </text>
            {row.bars.map((bar) =>
              Bar({ bar, x1: at(bar.day), top: HEAD + r * ROW + 5, at, end: x(7), column: x(1) - x(0) }),
            )}
          </>
        ))}
      </svg>
    </figure>
  );
}

interface RibbonBar {
  day: string;
  readyOn: string;
  label: string;
  title: string;
  kind: string;
}

function Bar(props: {
  bar: RibbonBar;
  x1: number;
  top: number;
  at: (iso: string) => number;
  end: number;
  column: number;
}): JSX.Element {
  const { bar, x1, top, at, end, column } = props;
  const width = column * POUR_WIDTH;
  const to = Math.min(end, at(bar.readyOn) + column * 0.1);
  const middle = top + 10;
  return (
    <g>
      <title safe>{bar.title}</title>
      {bar.readyOn > bar.day && <path class="tail" d={`M${x1 + width},${middle}H${to}`} />}
      {bar.readyOn > bar.day && to < end && <path class="tail" d={`M${to},${middle - 6}V${middle + 6}`} />}
      <rect
        class={`pour ${bar.kind}`}
        x={String(x1 + 6)}
        y={String(top)}
        width={String(width - 6)}
        height="20"
        rx="4"
      />
      {bar.kind !== '' && (
        <text x={String(x1 + 12)} y={String(top + 15)} font-size="12" safe>
          {bar.label}
        </text>
      )}
    </g>
  );
}

/** One row a vessel, in their order; the last row is the bench, where each day's fillings are one bar. */
function rowsOf(week: Week): { name: string; bars: RibbonBar[] }[] {
  const vessels = [...new Set(week.pours.flatMap((pour) => pour.vessel ?? []))].sort();
  const rows = vessels.map((name) => ({
    name,
    bars: week.pours.filter((pour) => pour.vessel === name).map((pour) => barOf(pour)),
  }));
  const bench = week.days.flatMap((day) => {
    const pours = week.pours.filter((pour) => pour.vessel === null && pour.day === day.day);
    if (pours.length === 0) return [];
    const label = `${pours.length} on the bench`;
    const kind = pours.some((pour) => pour.isShort) ? 'short' : pours[0]!.status === 'proposed' ? 'proposed' : 'set';
    return [{ day: day.day, readyOn: day.day, label, title: pours.map((pour) => pour.name).join(', '), kind }];
  });
  return bench.length > 0 ? [...rows, { name: 'bench', bars: bench }] : rows;
}

function barOf(pour: WeekPour): RibbonBar {
  const rest =
    pour.readyOn > pour.day ? `, ${restWord(pour.family, pour.vessel !== null)} until ${shortDay(pour.readyOn)}` : '';
  return {
    day: pour.day,
    readyOn: pour.readyOn,
    label: pour.name.length > NAME_LENGTH ? `${pour.name.slice(0, NAME_LENGTH - 1)}…` : pour.name,
    title: `${pour.name} in ${pour.vessel} on ${shortDay(pour.day)}${rest}${pour.isShort ? ', something is short' : ''}`,
    kind: pour.isShort ? 'short' : pour.status === 'proposed' ? 'proposed' : 'set',
  };
}
