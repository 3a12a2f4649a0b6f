import { createReadStream } from 'node:fs';
import { parseArgs } from 'node:util';
import type { INestApplicationContext } from '@nestjs/common';
import { z } from 'zod';
import { makeApplication } from '../src/application.js';
import { readConfig } from '../src/config.js';
import { importQuery } from '../src/orders/import.schema.js';
import type { ImportReport } from '../src/orders/import.schema.js';
import { ImportService } from '../src/orders/import.service.js';
import { printImportReport } from '../src/orders/report.js';
import { PlanningService } from '../src/planning/planning.service.js';
import { openDatabase } from '../src/platform/open-database.js';
import { Problem } from '../src/platform/problem.js';
import { isoDay } from '../src/platform/schema.js';
import { sayWhy, StartProblem } from '../src/platform/start-problem.js';
import { loadDemoIfEmpty, planText, problemText, runOf } from '../src/terminal.js';

const USAGE = `npm run plan -- [options]

  --week YYYY-MM-DD   the first of the seven days; the coming Monday if left out
  --orders FILE       reads a shop's order lines from a CSV file first
  --channel CODE      the channel of rows that name none
  --dates ORDER       the order of day and month where dates are not ISO 8601
  --take good         takes the good rows and lists the bad ones; otherwise one bad row refuses the file
  --json              prints data instead of text
`;

const WHO = 'terminal';

const OPTIONS = {
  week: { type: 'string' },
  orders: { type: 'string' },
  channel: { type: 'string' },
  dates: { type: 'string' },
  take: { type: 'string' },
  json: { type: 'boolean', default: false },
  help: { type: 'boolean', default: false },
} as const;

const { channel, dates, take } = importQuery.shape;
const optionsSchema = z.object({
  week: isoDay.optional(),
  orders: z.string().min(1).optional(),
  channel,
  dates,
  take,
  json: z.boolean(),
  help: z.boolean(),
});
type Options = z.infer<typeof optionsSchema>;

/** Imports orders if asked to, plans the week, prints it. A server that runs on the same home is joined, not disturbed. */
async function main(): Promise<void> {
  const options = readOptions();
  if (options.help) return void process.stdout.write(USAGE);
  const config = readConfig(process.env);
  const database = await openDatabase(config, { join: true });
  let app: INestApplicationContext | undefined;
  try {
    for (const line of database.notes) console.error(line);
    app = await makeApplication(config, database.url);
    await loadDemoIfEmpty(app, config);
    const report = options.orders === undefined ? undefined : await importOrders(app, options.orders, options);
    if (report && !options.json) console.log(printImportReport(report));
    const run = runOf(await app.get(PlanningService).makeDraft(WHO, options.week));
    console.log(options.json ? JSON.stringify({ import: report, run }, null, 2) : await planText(app, run));
  } finally {
    await app?.close();
    await database.close();
  }
}

function readOptions(): Options {
  try {
    const parsed = optionsSchema.safeParse(parseArgs({ options: OPTIONS }).values);
    if (parsed.success) return parsed.data;
    throw new Error(parsed.error.issues.map((issue) => `--${issue.path.join('.')}: ${issue.message}`).join('; '));
  } catch (error) {
    throw new StartProblem(`${(error as Error).message}\n\n${USAGE}`);
  }
}

async function importOrders(app: INestApplicationContext, file: string, options: Options): Promise<ImportReport> {
  const isWatched = process.stderr.isTTY;
  const show = (rows: number) => isWatched && process.stderr.write(`\r${rows} rows read`);
  try {
    return await app.get(ImportService).importOrders({
      stream: createReadStream(file),
      who: WHO,
      channel: options.channel,
      dates: options.dates,
      take: options.take,
      preview: false,
      onProgress: show,
    });
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : undefined;
    if (code === 'ENOENT' || code === 'EISDIR' || code === 'EACCES') {
      throw new StartProblem(`Cannot read ${file}: ${(error as Error).message}.`);
    }
    throw error;
  } finally {
    if (isWatched) process.stderr.write('\r\x1b[K');
  }
}

function explain(error: unknown): void {
  if (!(error instanceof Problem)) return sayWhy(error);
  const report = error.extra['report'] as ImportReport | undefined;
  console.error(report ? printImportReport(report) : problemText(error));
}

try {
  await main();
} catch (error) {
  explain(error);
  process.exitCode = 1;
}
