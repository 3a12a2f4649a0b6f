import { z } from 'zod';
import type { Measure } from '../../../kernel/measure/quantity.js';
import { shortDay } from '../../../ui/dates.js';
import { isoDay } from '../../../platform/schema.js';
import type { BrokenPromise } from '../../../stock/stock.schema.js';
import { amountText } from '../../../ui/amounts.js';

/** So many are named in an address; the next plan sees all of them. */
const NAMED_MAX = 30;

const freedParts = z.tuple([isoDay, z.coerce.number().int().min(1), z.enum(['w', 'c']), z.enum(['batch', 'order'])]);

export interface Freed {
  needOn: string;
  quantity: number;
  measure: Measure;
  for: 'batch' | 'order';
  name: string;
}

/** What an act broke, as the address of the page after it carries it: a reload then says the same and does nothing. */
export function freedForAddress(broken: readonly (BrokenPromise & { measure: Measure })[]): string[] {
  return broken
    .slice(0, NAMED_MAX)
    .map((row) =>
      [
        row.needOn,
        row.quantity,
        row.measure === 'weighed' ? 'w' : 'c',
        row.batch === null ? 'order' : 'batch',
        row.batch ?? row.order ?? '',
      ].join('~'),
    );
}

/** Reads them back; what is not of that form is left out. */
export const freedQuery = z
  .union([z.string().max(300), z.array(z.string().max(300)).max(NAMED_MAX)])
  .transform((given) => [given].flat().flatMap(readFreed))
  .optional();

function readFreed(text: string): Freed[] {
  const [day, quantity, measure, kind, ...name] = text.split('~');
  const read = freedParts.safeParse([day, quantity, measure, kind]);
  if (!read.success) return [];
  const [needOn, amount, letter, target] = read.data;
  return [
    { needOn, quantity: amount, measure: letter === 'w' ? 'weighed' : 'counted', for: target, name: name.join('~') },
  ];
}

/** Whose set-aside an act took back. */
export function FreedNote({ freed }: { freed: readonly Freed[] | undefined }): JSX.Element {
  if (!freed || freed.length === 0) return <></>;
  return (
    <div class="note care" role="alert">
      <p>
        <strong>This took back what was set aside. The next plan sees the need again:</strong>
      </p>
      <ul>
        {freed.map((row) => (
          <li
            safe
          >{`${amountText(row.quantity, row.measure)} for ${row.for} ${row.name}, needed on ${shortDay(row.needOn)}`}</li>
        ))}
      </ul>
    </div>
  );
}
