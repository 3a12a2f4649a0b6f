import { z } from 'zod';
import type { Snapshot } from '../kernel/plan/snapshot.js';

/** One thing that is not as it was when the draft was made. */
export const changeSchema = z
  .object({
    what: z
      .string()
      .describe(
        'items, formulas, vessels, lots, deliveries, making, lines, packs, use, workshop, people, washing or today',
      ),
    key: z.string(),
    change: z.enum(['added', 'gone', 'changed']),
    was: z.unknown().optional(),
    now: z.unknown().optional(),
  })
  .meta({ id: 'PlanChange' });
export type Change = z.infer<typeof changeSchema>;

/** Enough to see what happened; a whole import need not be spelled out. */
const CHANGES_MAX = 100;

const KEYS = {
  items: 'code',
  formulas: 'item',
  vessels: 'code',
  lots: 'code',
  deliveries: 'key',
  making: 'code',
  lines: 'key',
  packs: 'key',
  use: 'item',
} as const;

/** What is said of a line only where it is otherwise. */
const UNSAID: Partial<Record<keyof typeof KEYS, object>> = {
  lines: { weight: 1, urgent: false, sends: 'lines', order: null, asideOn: null },
};

/** What differs between two snapshots, by readable key; only the fields that differ are named. */
export function whatChanged(before: Snapshot, after: Snapshot): Change[] {
  const changes: Change[] = [];
  if (before.today !== after.today)
    changes.push({ what: 'today', key: 'today', change: 'changed', was: before.today, now: after.today });
  const workshop = difference(before.workshop, after.workshop);
  if (workshop) changes.push({ what: 'workshop', key: 'workshop', change: 'changed', ...workshop });
  for (const what of ['people', 'washing'] as const)
    if (canonical(before[what] ?? null) !== canonical(after[what] ?? null))
      changes.push({ what, key: what, change: 'changed' });
  for (const what of Object.keys(KEYS) as (keyof typeof KEYS)[]) {
    const keyOf = (row: object): string => String((row as Record<string, unknown>)[KEYS[what]]);
    const was = new Map<string, object>(before[what].map((row) => [keyOf(row), row]));
    for (const row of after[what]) {
      const key = keyOf(row);
      const old = was.get(key);
      was.delete(key);
      if (!old) changes.push({ what, key, change: 'added' });
      else {
        const fields = difference({ ...UNSAID[what], ...old }, { ...UNSAID[what], ...row });
        if (fields) changes.push({ what, key, change: 'changed', ...fields });
      }
    }
    for (const key of was.keys()) changes.push({ what, key, change: 'gone' });
  }
  return changes.slice(0, CHANGES_MAX);
}

/** The fields in which two rows differ; undefined when they are alike. jsonb forgets the order of keys, so each is compared. */
function difference(before: object, after: object): { was: object; now: object } | undefined {
  const was: Record<string, unknown> = {};
  const now: Record<string, unknown> = {};
  const old = before as Record<string, unknown>;
  for (const [field, value] of Object.entries(after))
    // what an earlier version did not write is null
    if (canonical(old[field] ?? null) !== canonical(value)) {
      was[field] = old[field];
      now[field] = value;
    }
  return Object.keys(now).length > 0 ? { was, now } : undefined;
}

function canonical(value: unknown): string {
  return JSON.stringify(value, (_key, part: unknown) =>
    part !== null && typeof part === 'object' && !Array.isArray(part)
      ? Object.fromEntries(Object.entries(part).sort(([a], [b]) => (a < b ? -1 : 1)))
      : part,
  );
}
