import { z } from 'zod';
import { problemWith } from '../platform/problem-schema.js';
import { flagText, isoDay, itemCode, lineOfText } from '../platform/schema.js';
import { DATE_ORDERS } from './order-dates.js';
import { channelCode } from './orders.schema.js';

/** How many of the new lines a report shows. */
export const NEW_SHOWN = 20;

/** How many entries each list of a report holds; the counts beside it are complete. */
export const LISTED_MAX = 1000;
export const take = z.enum(['all', 'good']).meta({ id: 'ImportTake' });

const flag = flagText.transform((text) => text === 'true');
const mapText = z.string().max(20_000);

export const importQuery = z.strictObject({
  channel: channelCode.optional().describe('The channel of rows that name none, or one nobody knows'),
  dates: z.enum(DATE_ORDERS).optional().describe('The order of day and month in dates that are not ISO 8601'),
  take: take.default('all').describe('all: one bad row and nothing is written; good: the rest is'),
  preview: flag.default(false).describe('true writes nothing and answers what would be written'),
  map: z
    .union([mapText, z.array(mapText).max(50)])
    .optional()
    .describe('Which column is which: role:Header, repeated, or JSON text {"role": "Header"}'),
});
export type ImportQuery = z.infer<typeof importQuery>;

const count = z.int().min(0);
const lineKey = { line: z.int(), channel: z.string(), number: z.string(), code: z.string(), occurrence: z.int() };

export const rowProblem = z
  .object({
    line: z.int().describe('The line of the file the row begins in, counted from 1'),
    column: z.string().describe('The header of the column; empty where the whole row is meant'),
    code: z.string(),
    detail: z.string(),
  })
  .meta({ id: 'RowProblem' });

export const unknownCode = z
  .object({
    channel: z.string(),
    code: z.string(),
    lines: count,
    units: count,
    firstLine: z.int(),
  })
  .meta({ id: 'UnknownCode' });

export const newLine = z
  .object({
    ...lineKey,
    customer: z.string().nullable(),
    item: itemCode,
    quantity: count.describe('Units of the item'),
    shipBy: isoDay,
  })
  .meta({ id: 'NewLine' });

export const amendment = z
  .object({
    ...lineKey,
    changes: z.array(z.object({ field: z.string(), from: z.string().nullable(), to: z.string().nullable() })),
  })
  .meta({ id: 'Amendment' });

export const cancellation = z
  .object({
    ...lineKey,
    asked: count.describe('Units the file takes back'),
    cancelled: count.describe('Units that were open here and now are not'),
    reason: z.enum(['negative-quantity', 'cancelled-order', 'cancelled-here']),
  })
  .meta({ id: 'Cancellation' });

export const importReport = z
  .object({
    written: z.boolean().describe('Whether anything was kept'),
    preview: z.boolean(),
    take: take,
    file: z.object({
      bytes: count,
      encoding: z.string(),
      delimiter: z.string(),
      columns: z.record(z.string(), z.string()).describe('Which header was read as what'),
      unread: z.array(lineOfText(100)).describe('Headers of the columns that were not read'),
    }),
    rows: z.object({
      read: count.describe('All of them: the sum of the others'),
      new: count,
      known: count,
      amended: count,
      cancelled: count,
      fulfilled: count.describe('New here and sent already: kept as history, nothing left to plan'),
      bad: count,
    }),
    orders: z.object({ new: count, waiting: count.describe('Of the orders in the file: not paid, so not planned') }),
    units: z.object({ planned: count.describe('Open units of the new lines of confirmed orders') }),
    newLines: z.array(newLine).max(NEW_SHOWN).describe('The first of the new lines, as they are or would be written'),
    problemCounts: z.record(z.string(), count),
    problems: z.array(rowProblem).max(LISTED_MAX),
    unknownCodeCount: count,
    unknownCodes: z.array(unknownCode).max(LISTED_MAX),
    amendments: z.array(amendment).max(LISTED_MAX),
    cancellations: z.array(cancellation).max(LISTED_MAX),
  })
  .meta({ id: 'ImportReport' });

export type ImportReport = z.infer<typeof importReport>;
export type NewLine = z.infer<typeof newLine>;
export type UnknownCode = z.infer<typeof unknownCode>;
export type Amendment = z.infer<typeof amendment>;
export type Cancellation = z.infer<typeof cancellation>;

export const importProblem = problemWith('ImportProblem', {
  line: z.int().describe('csv-...: the line of the file'),
  report: importReport.describe('rows-refused'),
  header: z.array(z.string()).describe('columns: as it was read'),
  matched: z.record(z.string(), z.string()).describe('columns: which header was taken for what'),
  faults: z.array(z.string()).describe('columns: what is not clear'),
});
