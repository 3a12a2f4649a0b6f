import { scaleUtc } from 'd3-scale';
import type { Measure } from '../../kernel/measure/quantity.js';
import { addDays, dayOf } from '../../kernel/measure/day.js';
import { longDay, shortDay } from '../../ui/dates.js';
import type { ShelfLot } from '../../planning/shelf.service.js';
import { amountText } from '../../ui/amounts.js';

const WIDTH = 1120;
const LABELS = 250;
const HEAD = 40;
const ROW = 30;
const FOOT = 8;
/** So many lots are drawn; the table beside has all. */
const DRAWN_MAX = 30;
/** The axis begins so many days ago, that today stands near its left end, and reaches at least so many ahead. */
const BEHIND_DAYS = 45;
const AHEAD_DAYS = 120;

/**
 * The lots of an item by their last day: each a bar from the day it came, or the axis' start, to the last day it may be used, on one time axis
 * with today as a line. Solid may be used, dashed waits or is on hold, hatched is past its day. The table beside it says
 * the same.
 */
export function LotAxis(props: { lots: readonly ShelfLot[]; measure: Measure; today: string }): JSX.Element {
  const { measure, today } = props;
  const lots = props.lots.slice(0, DRAWN_MAX);
  const dated = lots.flatMap((lot) => lot.expiresOn ?? []);
  const first = addDays(today, -BEHIND_DAYS);
  const last = [addDays(today, AHEAD_DAYS), ...dated].reduce((a, b) => (a > b ? a : b));
  const x = scaleUtc([new Date(`${first}T00:00:00Z`), new Date(`${addDays(last, 14)}T00:00:00Z`)], [LABELS, WIDTH - 8]);
  const at = (iso: string): number => x(new Date(dayOf(iso) * 86_400_000));
  const height = HEAD + lots.length * ROW + FOOT;
  return (
    <figure class="ribbon" tabindex="0" aria-label="Lots by their last day, scrollable">
      <svg viewBox={`0 0 ${WIDTH} ${height}`} role="img" aria-labelledby="lot-axis-title">
        <title id="lot-axis-title">Lots from the day they came to their last day; the table below says the same</title>
        <defs>
          <pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <line class="hatch" x1="0" y1="0" x2="0" y2="8" />
          </pattern>
        </defs>
        {x.ticks(8).map((tick) => (
          <>
            <line class="line" x1={String(x(tick))} y1={String(HEAD)} x2={String(x(tick))} y2={String(height)} />
            <text class="soft" x={String(x(tick))} y="16" text-anchor="middle" safe>
              {tickText(tick)}
            </text>
          </>
        ))}
        <line class="tick" x1={String(at(today))} y1={String(HEAD + 2)} x2={String(at(today))} y2={String(height)} />
        <text x={String(at(today))} y={String(HEAD - 4)} text-anchor="middle" font-weight="600">
          today
        </text>
        {lots.map((lot, row) => LotBar({ lot, measure, today, at, top: HEAD + row * ROW }))}
      </svg>
    </figure>
  );
}

/** The month, or in January the year; a mark within a month is a day of it. */
function tickText(tick: Date): string {
  const [, day = '', month = ''] = shortDay(tick.toISOString().slice(0, 10)).split(' ');
  if (day !== '1') return `${day} ${month}`;
  return month === 'Jan' ? String(tick.getUTCFullYear()) : month;
}

function LotBar(props: {
  lot: ShelfLot;
  measure: Measure;
  today: string;
  at: (iso: string) => number;
  top: number;
}): JSX.Element {
  const { lot, measure, today, at, top } = props;
  const from = Math.max(LABELS, at(lot.cameOn));
  const to = lot.expiresOn === null ? WIDTH - 8 : at(addDays(lot.expiresOn, 1));
  const isPast = lot.expiresOn !== null && lot.expiresOn < today;
  const kind = isPast ? 'short' : lot.status === 'released' ? '' : 'proposed';
  const until = lot.expiresOn === null ? 'does not expire' : `last day ${longDay(lot.expiresOn)}`;
  const amount = amountText(lot.onHand, measure);
  return (
    <g>
      <title safe>{`${lot.code}: ${amount}, ${until}`}</title>
      <text x="8" y={String(top + 20)} safe>
        {lot.code.length > 16 ? `${lot.code.slice(0, 15)}…` : lot.code}
      </text>
      <text x={String(LABELS - 12)} y={String(top + 20)} text-anchor="end" font-weight="600" safe>
        {amount}
      </text>
      <rect
        class={`pour ${kind}`}
        x={String(from)}
        y={String(top + 7)}
        width={String(Math.max(3, to - from))}
        height="16"
        rx="4"
      />
      {lot.expiresOn === null && <path class="tail" d={`M${WIDTH - 16},${top + 9}l7,6l-7,6`} />}
    </g>
  );
}
