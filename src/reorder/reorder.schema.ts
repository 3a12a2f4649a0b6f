import { z } from 'zod';
import { amount, moneyE4 } from '../platform/schema.js';

const dayOrNull = z.string().nullable().describe('A calendar day, YYYY-MM-DD');

export const reorderRowSchema = z.object({
  item: z.string(),
  name: z.string(),
  family: z.string(),
  measure: z.enum(['weighed', 'counted']),
  free: amount.describe('Usable now and not reserved'),
  onTheWay: amount,
  expectedUse: amount.describe('Planned needs and, beyond them, past use, until the last day looked at'),
  keep: amount.describe('What should be left over at the end'),
  freeByDay: z.array(z.int()).describe('Free at the end of each day from today on; below zero is what would be short'),
  runsOutOn: dayOrNull,
  wanted: amount,
  orderBy: dayOrNull.describe('Last day to order and still be in time'),
  overdue: z.boolean(),
  packs: z.array(z.object({ key: z.string(), count: z.int() })),
  packsTotal: amount,
  costE4: moneyE4,
  gapE4: moneyE4.describe('How far from the cheapest the packs may be, at most; 0 is exact'),
});
export const reorderSchema = z.object({ today: z.string(), rows: z.array(reorderRowSchema) });

export type ReorderRow = z.infer<typeof reorderRowSchema>;
export type ReorderList = z.infer<typeof reorderSchema>;
