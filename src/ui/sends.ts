import type { LineCover } from '../kernel/plan/proposal.js';
import type { Sends } from '../kernel/plan/snapshot.js';
import { shortDay } from './dates.js';

/** How an order is sent, in the maker's words. */
export const SENDS_WORDS: Record<Sends | 'lines', string> = {
  lines: 'each line when all of it is ready',
  complete: 'all at once, when the last of it is ready',
  parts: 'in parts, what is there first',
};

/** For what of its order a line waits that goes all at once. */
export const waitText = ({ name, readyOn }: { name: string; readyOn: string | null }): string =>
  `waits for ${name}, ${readyOn === null ? 'not covered yet' : `ready ${shortDay(readyOn)}`}`;

/**
 * "7 of 10 by Fri 4 Dec, 3 on Wed 9 Dec"; nothing of what is in time, or not covered, where there is none; "7 on Mon 30 Nov,
 * 3 on Wed 2 Dec" where all of it is in time.
 */
export function partsText(
  parts: NonNullable<LineCover['parts']>,
  { quantity, shipBy, missing }: Pick<LineCover, 'quantity' | 'shipBy' | 'missing'>,
): string {
  const inTime = parts.filter(({ on }) => on <= shipBy).reduce((sum, part) => sum + part.quantity, 0);
  const onDays = (those: typeof parts) => those.map((part) => `${part.quantity} on ${shortDay(part.on)}`);
  if (inTime === quantity) return onDays(parts).join(', ');
  const later = onDays(parts.filter(({ on }) => on > shipBy));
  const said = [
    ...(inTime > 0 ? [`${inTime} of ${quantity} by ${shortDay(shipBy)}`] : []),
    ...later,
    ...(missing > 0 ? [`${missing} not covered`] : []),
  ];
  return said.join(', ');
}
