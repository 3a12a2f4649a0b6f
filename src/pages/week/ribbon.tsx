import { scaleLinear } from 'd3-scale';
import { dayOf } from '../../kernel/measure/day.js';
import type { Week } from '../../planning/week.service.js';
import { shortDay } from '../../ui/dates.js';
import { type RibbonBar, rowsOf } from './ribbon-rows.js';

const WIDTH = 1120;
const LABELS = 96;
const HEAD = 76;
const ROW = 32;
const BLOCK = 24;
const FOOT = 10;
const x = scaleLinear([0, 7], [LABELS, WIDTH]);
const COLUMN = x(1) - x(0);
/** How much of a day's width a pour takes. */
const POUR_WIDTH = 0.94;
const GAUGE = { width: COLUMN - 20, height: 8 };

/**
 * The week ribbon: seven days, each with a gauge of its bench minutes and how many lines are to ship; below, a row for each
 * vessel that holds something: a pour as a block, its rest as a line to a bar on the day it is ready, dashed for as long as
 * it stands there after that. What stands from before begins at the left edge. Lists beside it say the same for those who
 * cannot see it.
 */
export function Ribbon({ week }: { week: Week }): JSX.Element {
  const rows = rowsOf(week);
  const height = HEAD + Math.max(1, rows.length) * ROW + FOOT;
  const at = (iso: string): number => x(dayOf(iso) - dayOf(week.start));
  return (
    <figure class="week-picture" tabindex="0" aria-label="The week ribbon, scrollable">
      <svg viewBox={`0 0 ${WIDTH} ${height}`} role="img" aria-labelledby="ribbon-title">
        <title id="ribbon-title" safe>
          {`The week from ${shortDay(week.start)} to ${shortDay(week.end)}: the lists of this page say the same`}
        </title>
        <defs>
          <pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <line class="hatch" x1="0" y1="0" x2="0" y2="8" />
          </pattern>
        </defs>
        {week.days.map((day, i) => (
          <>
            <line class="line" x1={String(x(i))} y1="0" x2={String(x(i))} y2={String(height)} />
            <DayHead day={day} left={x(i) + 8} />
          </>
        ))}
        {week.shipBy.map((ship) => (
          <>
            <line class="tick" x1={String(at(ship.day) + 9)} y1="58" x2={String(at(ship.day) + 9)} y2="70" />
            <text class="soft" x={String(at(ship.day) + 14)} y="69" safe>
              {`ship ${ship.lines}`}
            </text>
          </>
        ))}
        {rows.map((row, r) => (
          <>
            <text class="soft" x="8" y={String(HEAD + r * ROW + 20)} safe>
              {row.name}
            </text>
            {row.bars.map((bar) => (
              <Bar bar={bar} top={HEAD + r * ROW + (ROW - BLOCK) / 2} at={at} />
            ))}
          </>
        ))}
      </svg>
    </figure>
  );
}

function DayHead({ day, left }: { day: Week['days'][number]; left: number }): JSX.Element {
  const { minutesOpen, minutesUsed } = day;
  const part = minutesOpen === 0 ? 0 : Math.min(1, minutesUsed / minutesOpen);
  const gauge = { x: String(left), y: '44', height: String(GAUGE.height) };
  return (
    <>
      <text x={String(left)} y="18" font-weight="600" safe>
        {shortDay(day.day)}
      </text>
      <text class="soft" x={String(left)} y="37" safe>
        {minutesOpen === 0 ? 'closed' : `${minutesUsed} of ${minutesOpen} min`}
      </text>
      {minutesOpen > 0 && <rect class="gauge" {...gauge} width={String(GAUGE.width)} />}
      {part > 0 && (
        <rect
          class={minutesUsed > minutesOpen ? 'level over' : 'level'}
          {...gauge}
          width={String(GAUGE.width * part)}
        />
      )}
    </>
  );
}

function Bar({ bar, top, at }: { bar: RibbonBar; top: number; at: (iso: string) => number }): JSX.Element {
  const left = at(bar.day) + 6;
  const right = at(bar.day) + COLUMN * POUR_WIDTH;
  const middle = top + BLOCK / 2;
  const ready = bar.readyOn > bar.day ? at(bar.readyOn) + COLUMN * 0.1 : right;
  const until = bar.until > bar.day ? at(bar.until) + COLUMN * 0.5 : right;
  return (
    <g>
      <title safe>{bar.title}</title>
      {ready > right && <path class="tail" d={`M${right},${middle}H${Math.min(WIDTH, ready)}`} />}
      {ready > right && ready < WIDTH && <path class="tail" d={`M${ready},${middle - 6}V${middle + 6}`} />}
      {until > ready && ready < WIDTH && (
        <path class="tail stands" d={`M${ready},${middle}H${Math.min(WIDTH, until)}`} />
      )}
      <rect
        class={`pour ${bar.kind}`}
        x={String(left)}
        y={String(top)}
        width={String(right - left)}
        height={String(BLOCK)}
        rx="3"
      />
      {bar.kind === 'short' && <rect class="sign" x={String(left)} y={String(top)} width="12" height={String(BLOCK)} />}
      <text x={String(left + (bar.kind === 'short' ? 17 : 7))} y={String(top + 17)} safe>
        {bar.label}
      </text>
    </g>
  );
}

/** What stood in a vessel before the week began, and still does. */
export function Standing({ standing }: Pick<Week, 'standing'>): JSX.Element {
  if (standing.length === 0) return <></>;
  return (
    <>
      <p>Full from earlier weeks:</p>
      <ul>
        {standing.map(({ vessel, name, until }) => (
          <li safe>{`${vessel} with ${name}, until ${shortDay(until)}`}</li>
        ))}
      </ul>
    </>
  );
}
