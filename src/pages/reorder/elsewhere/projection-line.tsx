import { scaleLinear } from 'd3-scale';
import { area, curveStepAfter, line } from 'd3-shape';
import type { ReorderRow } from '../../../reorder/reorder.schema.js';
import { addDays, dayOf } from '../../../kernel/measure/day.js';
import { shortDay } from '../../../ui/dates.js';
import { amountText } from '../../../ui/amounts.js';

const WIDTH = 220;
const HEIGHT = 56;
const EDGE = 4;

/**
 * Free stock by day as a small stepped line from today on, its foot the line where nothing is left; around it the band in
 * which it stays four times in five. A dashed line is what should be kept; an upright tick with a square is the last day to order, one with a dot the day it runs out.
 */
export function ProjectionLine({ row, today }: { row: ReorderRow; today: string }): JSX.Element {
  const days = row.freeByDay;
  const x = scaleLinear([0, Math.max(1, days.length)], [EDGE, WIDTH - EDGE]);
  const y = scaleLinear(
    [Math.min(0, ...days, ...row.lowByDay), Math.max(1, row.keep, ...days, ...row.highByDay)],
    [HEIGHT - EDGE, EDGE],
  );
  // the last day lasts a day, too
  const lasting = (byDay: readonly number[]): number[] => [...byDay, byDay.at(-1) ?? 0];
  const steps = lasting(days).map((free, day) => [x(day), y(free)] as [number, number]);
  const high = lasting(row.highByDay);
  const band = lasting(row.lowByDay).map((low, day) => [x(day), y(low), y(high[day]!)] as [number, number, number]);
  const at = (iso: string | null): number | null => {
    const day = iso === null ? -1 : dayOf(iso) - dayOf(today);
    return day >= 0 && day <= days.length ? x(day) : null;
  };
  const [order, out] = [at(row.orderBy), at(row.runsOutOn)];
  const base = y(0);
  return (
    <svg class="projection" viewBox={`0 0 ${WIDTH} ${HEIGHT}`} width={String(WIDTH)} height={String(HEIGHT)} role="img">
      <title safe>{projectionText(row, today)}</title>
      {row.forecast !== null && <path class="band" d={bandOf(band)} />}
      <line class="line" x1={String(EDGE)} y1={String(base)} x2={String(WIDTH - EDGE)} y2={String(base)} />
      {row.keep > 0 && (
        <line
          class="keep"
          x1={String(EDGE)}
          y1={String(y(row.keep))}
          x2={String(WIDTH - EDGE)}
          y2={String(y(row.keep))}
        />
      )}
      <path class="tail" d={line().curve(curveStepAfter)(steps) ?? ''} />
      {order !== null && (
        <>
          <line class="tick" x1={String(order)} y1={String(EDGE)} x2={String(order)} y2={String(HEIGHT - EDGE)} />
          <rect class="sign" x={String(order - 3)} y={String(EDGE)} width="6" height="6" />
        </>
      )}
      {out !== null && <circle class="sign" cx={String(out)} cy={String(y(row.keep))} r="4" />}
    </svg>
  );
}

const bandOf = (band: [number, number, number][]): string =>
  area<[number, number, number]>()
    .x(([x]) => x)
    .y0(([, low]) => low)
    .y1(([, , high]) => high)
    .curve(curveStepAfter)(band) ?? '';

function projectionText(row: ReorderRow, today: string): string {
  const amount = (quantity: number): string =>
    quantity < 0 ? `${amountText(-quantity, row.measure)} short` : amountText(quantity, row.measure);
  const last = addDays(today, row.freeByDay.length - 1);
  return (
    `${row.name}: ${amount(row.freeByDay[0] ?? row.free)} free today, ` +
    `${amount(row.freeByDay.at(-1) ?? row.free)} on ${shortDay(last)} if nothing is ordered`
  );
}
