import type { Week, WeekPour } from '../../planning/week.service.js';
import { amountText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

/** Why a plan has it; a set packed without one is only what it is. */
export const whyAddress = ({ runId, code }: WeekPour): string =>
  runId === null ? `/batches/${encodeURIComponent(code)}` : `/why/batch/${runId}/${encodeURIComponent(code)}`;

/** Where it is asked to which day. */
export const moveAddress = (start: string, { runId, code }: Pick<WeekPour, 'runId' | 'code'>): string =>
  `/week/${start}/runs/${runId}/batches/${encodeURIComponent(code)}/move`;

/** Until it is weighed, a batch can go to another day. */
export const isMovable = (pour: WeekPour): boolean => pour.status === 'planned' || pour.status === 'reserved';

/** Nothing of it is done, so it still asks for somebody. */
export const isToMake = (pour: WeekPour): boolean => pour.status === 'proposed' || isMovable(pour);

/** Something of that day that they alone may make is still to be made. */
export const isAhead = ({ skills }: Week['days'][number]['few'][number], pours: readonly WeekPour[]): boolean =>
  pours.some((pour) => isToMake(pour) && pour.skill !== null && skills.includes(pour.skill));

/** Its order lines are counted, batches named where they are few. */
export function madeForText(pour: WeekPour): string {
  const lines = pour.madeFor.filter((peg) => peg.for === 'line').length;
  const batches = pour.madeFor.filter((peg) => peg.for === 'batch').map((peg) => peg.label);
  const stock = pour.madeFor.find((peg) => peg.for === 'stock');
  return [
    lines > 0 ? count(lines, 'order line') : '',
    batches.length > 3 ? count(batches.length, 'batch', 'batches') : batches.join(', '),
    stock ? `${amountText(stock.quantity, pour.measure)} for stock` : '',
  ]
    .filter((part) => part !== '')
    .join(', ');
}
