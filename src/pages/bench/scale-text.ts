import { invalid } from '../../platform/problem.js';
import { decimalMark } from '../../ui/decimal-mark.js';
import type { WeightUnit } from '../../ui/good-range.js';

/** What stands beside the field, and where the workshop is: whether a comma there stands before decimals. */
export interface TypedIn {
  unit: WeightUnit;
  timeZone: string;
}

/**
 * A weight as a person or a scale types it, such as "1,69", "1690 g" or "ST,GS,+  123.4 g\r": signs of the line and the
 * words a scale puts in front are taken off, a decimal comma becomes a point, and a number alone is in the unit that stands
 * beside the field. What says that it had not come to rest, or was overloaded, is a 422 problem at `pointer`. Anything else
 * stays as it was typed. The forms are common practice, from memory.
 */
export function scaleWeight(text: string | undefined, pointer: string, { unit, timeZone }: TypedIn): string {
  const line = (text ?? '').replace(/\p{Cc}+/gu, ' ').trim();
  if (/^(US|OL)\s*,/i.test(line) || line.endsWith('?'))
    throw invalid(pointer, 'The scale had not come to rest, or was overloaded. Weigh it again.', 'not-at-rest');
  const read = /^(?:ST\s*,\s*)?(?:[GN][ST]?\s*,\s*)?\+?\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*([a-z ]*)$/i.exec(line);
  if (!read) return line;
  const [, number, typedUnit] = read;
  return `${withPoint(number!, timeZone)} ${typedUnit!.trim() || unit}`;
}

/** Three digits behind a comma may be thousands, where it is not the decimal mark: that is left for the reader to refuse. */
function withPoint(number: string, timeZone: string): string {
  const mayBeThousands = /^[1-9]\d{0,2},\d{3}$/.test(number);
  return mayBeThousands && decimalMark(timeZone) !== ',' ? number : number.replace(',', '.');
}
