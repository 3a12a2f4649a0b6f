import { invalid } from '../../platform/problem.js';

/**
 * A weight as a scale types it, such as "  123.4 g\r" or "ST,GS,+  123.4 g": signs of the line and the words a scale puts in
 * front are taken off; a number alone is in grams. What says that it had not come to rest, or was overloaded, is a 422
 * problem at `pointer`. Anything else stays as it was typed. The forms are common practice, from memory.
 */
export function scaleWeight(text: string | undefined, pointer: string): string {
  const line = (text ?? '').replace(/\p{Cc}+/gu, ' ').trim();
  if (/^(US|OL)\s*,/i.test(line) || line.endsWith('?'))
    throw invalid(pointer, 'The scale had not come to rest, or was overloaded. Weigh it again.', 'not-at-rest');
  const read = /^(?:ST\s*,\s*)?(?:[GN][ST]?\s*,\s*)?\+?\s*(\d+(?:\.\d+)?)\s*([a-z ]*)$/i.exec(line);
  if (!read) return line;
  return `${read[1]} ${read[2]!.trim() || 'g'}`;
}
