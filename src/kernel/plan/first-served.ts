import type { Attempt } from './attempt.js';
import type { LineState } from './job.js';
import type { Model } from './model.js';
import { partsOf, readyOf } from './line-waits.js';
import { weightOf } from './whom.js';

/**
 * Order lines that are late or not covered though they count for more than others: they are to take of finished goods, and of
 * what is being made, before others do. None where all count the same.
 */
export function linesToServeFirst(model: Model, attempt: Attempt): string[] {
  const { lines } = attempt.netted;
  const weight = (line: LineState): number => weightOf(line, model.terms);
  const least = lines.reduce((min, line) => Math.min(min, weight(line)), Number.POSITIVE_INFINITY);
  if (lines.every((line) => weight(line) === least)) return [];
  const badlyServed = partsOf(model, attempt).filter(({ line, wait }) => {
    const ready = wait && readyOf(wait, (job) => attempt.placed.get(job)!);
    return weight(line) > least && (ready === null || ready > line.shipBy);
  });
  return [...new Set(badlyServed.map(({ line }) => line.row.key))];
}
