import { addDays } from '../kernel/measure/day.js';
import type { AtRisk, Shortfall } from '../kernel/plan/proposal.js';
import type { TroubleAhead } from '../planning/trouble-ahead.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { amountText } from '../ui/amounts.js';
import type { DueNotice } from '../messages/reminders.service.js';
import { longDay, shortDay } from '../ui/dates.js';
import type { ReorderRow } from '../reorder/reorder.schema.js';

export interface Named {
  name: string;
  measure: Measure;
}

/** Of a lot nobody knows how fast it goes, the maker is told so many days before its last. Common practice, no source. */
const UNKNOWN_USE_DAYS = 30;
const NAMED_MAX = 5;

/** What must be ordered before the list is looked at again. */
export function reorderNotices(rows: readonly ReorderRow[], today: string): DueNotice[] {
  return rows
    .filter((row) => row.due && row.wanted > 0 && row.orderBy !== null)
    .map((row) => ({
      kind: 'reorder',
      cause: `reorder/${row.item}`,
      title: row.overdue
        ? `Order ${row.name} now: the last day was ${shortDay(row.orderBy!)}`
        : `Order ${row.name} by ${shortDay(row.orderBy!)}`,
      detail: [
        `${amountText(row.free, row.measure)} free, ${amountText(row.packsTotal, row.measure)} to order.`,
        row.shortOn === null ? '' : `Without it something is short on ${longDay(row.shortOn)}.`,
      ]
        .filter((part) => part !== '')
        .join(' '),
      link: `/why/reorder/${row.item}`,
      dueOn: row.overdue ? today : row.orderBy!,
    }));
}

/** What no order placed today could still bring in time. */
export function shortfallNotices({ shortfalls, today }: TroubleAhead, names: ReadonlyMap<string, Named>): DueNotice[] {
  return shortfalls
    .filter((row) => row.tooLate)
    .map((row) => {
      const { name, measure } = names.get(row.item) ?? { name: row.item, measure: 'counted' };
      return {
        kind: 'shortfall',
        cause: `shortfall/${row.item}`,
        title: `${amountText(row.quantity, measure)} of ${name} will be short on ${shortDay(row.needOn)}`,
        detail: hurtText(row),
        link: '/week',
        dueOn: row.needOn < today ? today : row.needOn,
      };
    });
}

function hurtText({ hurts, orderBy }: Shortfall): string {
  const shown = hurts.lines.slice(0, NAMED_MAX).join(', ');
  const more = hurts.lines.length > NAMED_MAX ? ` and ${hurts.lines.length - NAMED_MAX} more` : '';
  const whom = hurts.lines.length === 0 ? 'It is short of what should be kept.' : `It hurts ${shown}${more}.`;
  return orderBy === null ? `Nobody is known to sell it. ${whom}` : `No order can come in time any more. ${whom}`;
}

/**
 * Lots of which something will be left on their last day. That is told as soon as it is seen, up to three months before,
 * while there is time to use more of it; where nobody knows how fast it goes, a month before.
 */
export function expiringNotices({ atRisk, today }: TroubleAhead, names: ReadonlyMap<string, Named>): DueNotice[] {
  return atRisk
    .filter((row) => row.left !== null || row.expiresOn <= addDays(today, UNKNOWN_USE_DAYS))
    .map((row) => {
      const { name, measure } = names.get(row.item) ?? { name: row.item, measure: 'counted' };
      const isPast = row.expiresOn < today;
      return {
        kind: 'expiring',
        cause: `expiring/${row.lot}/${row.expiresOn}`,
        title: isPast
          ? `${name}, lot ${row.lot}, is past its last day, ${shortDay(row.expiresOn)}`
          : `${name}, lot ${row.lot}: last day ${longDay(row.expiresOn)}`,
        detail: leftText(row, measure, isPast),
        link: `/shelf/lots/${encodeURIComponent(row.lot)}`,
        dueOn: isPast ? today : row.expiresOn,
      };
    });
}

function leftText({ left, freeAfterPlan, usableIn }: AtRisk, measure: Measure, isPast: boolean): string {
  const free = amountText(left ?? freeAfterPlan, measure);
  if (isPast) return `${free} of it is still there.`;
  const what =
    left === null
      ? `${free} is not planned for anything, and nobody knows how fast it goes.`
      : `${free} of it will be left then, as it is used now.`;
  return usableIn.length === 0 ? what : `${what} It goes into ${usableIn.slice(0, NAMED_MAX).join(', ')}.`;
}
