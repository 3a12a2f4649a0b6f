import type { Attempt } from './attempt.js';
import type { LineState } from './job.js';
import type { Model } from './model.js';
import { type LinePart, partsOf, readyOf } from './line-waits.js';
import { weightOf } from './whom.js';

/** Lines of orders that are sent complete, and late or not covered: none of them needs what is there before the last can go. */
export function linesToServeLast(model: Model, attempt: Attempt): string[] {
  const ofOrders = partsOf(model, attempt).filter(({ line }) => line.together.length > 0);
  const late = ofOrders.filter((part) => isBadlyServed(part, attempt)).flatMap(({ line }) => line.together);
  return [...new Set(late.map(({ row }) => row.key))];
}

function isBadlyServed({ line, wait }: LinePart, { placed }: Attempt): boolean {
  const ready = wait && readyOf(wait, (job) => placed.get(job)!);
  return ready === null || ready > line.shipBy;
}

/**
 * Order lines that are late or not covered though they count for more than others: they are to take of finished goods, and of
 * what is being made, before others do. None where all count the same.
 */
export function linesToServeFirst(model: Model, attempt: Attempt): string[] {
  const { lines } = attempt.netted;
  const weight = (line: LineState): number => weightOf(line, model.terms);
  const least = lines.reduce((min, line) => Math.min(min, weight(line)), Number.POSITIVE_INFINITY);
  if (lines.every((line) => weight(line) === least)) return [];
  const badlyServed = partsOf(model, attempt).filter(
    (part) => weight(part.line) > least && isBadlyServed(part, attempt),
  );
  return [...new Set(badlyServed.map(({ line }) => line.row.key))];
}
