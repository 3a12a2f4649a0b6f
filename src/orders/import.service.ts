import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { Database } from '../platform/database.js';
import { invalid, Problem } from '../platform/problem.js';
import { dayInZone } from '../platform/zone.js';
import { matchColumns } from './columns.js';
import type { ColumnMap, Columns } from './columns.js';
import { openCsv } from './csv-reader.js';
import type { Csv } from './csv-reader.js';
import { decoded, spool } from './encoding.js';
import type { Spooled } from './encoding.js';
import { applyRows } from './import-apply.js';
import { readOutcome } from './import-outcome.js';
import { CHUNK_ROWS, openStage, resolveRows, stageRows } from './import-stage.js';
import type { StagedRow } from './import-stage.js';
import { LISTED_MAX } from './import.schema.js';
import type { ImportReport } from './import.schema.js';
import type { DateOrder } from './order-dates.js';
import { Channel } from './orders.entity.js';
import { rowReader } from './rows.js';
import type { RowProblem, RowRules } from './rows.js';

/** More rows than this are refused: the database works on all rows of a file at once. */
const ROWS_MAX = 500_000;
const UNREAD_SHOWN = 100;

export interface ImportRequest {
  stream: AsyncIterable<Uint8Array | string>;
  who: string;
  /** The channel of rows that name none, or one nobody knows. */
  channel?: string;
  dates?: DateOrder;
  columnMap?: ColumnMap;
  /** all: one bad row and nothing is written. good: the good rows are. */
  take: 'all' | 'good';
  /** Writes nothing; the report says what would be written. */
  preview: boolean;
  /** Called with the rows read so far, at most once every CHUNK_ROWS rows. */
  onProgress?: (rowsRead: number) => void;
  /** Called where anything was written, in the same act. */
  onWritten?: (tx: EntityManager, report: ImportReport) => Promise<void>;
}

/** A refusal or a preview takes everything back by leaving the act with the report in hand. */
class TakenBack extends Error {
  constructor(readonly report: ImportReport) {
    super('taken back');
  }
}

/** Orders out of a shop's CSV. */
@Injectable()
export class ImportService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * Reads a file of order lines and writes them in one act. Throws a 422 problem, with the report as `report`, when a
   * row is bad and `take` is `all`; other 4xx problems when the file itself cannot be read.
   */
  async importOrders(request: ImportRequest): Promise<ImportReport> {
    const file = await spool(request.stream);
    const today = await this.clock.today();
    try {
      return await this.database.act({ who: request.who, why: 'order import' }, async (tx) => {
        const report = await importFile(tx, file, request, today);
        if (!report.written) throw new TakenBack(report);
        await request.onWritten?.(tx, report);
        return report;
      });
    } catch (error) {
      if (!(error instanceof TakenBack)) throw error;
      if (request.preview) return error.report;
      throw refusal(error.report);
    }
  }
}

async function importFile(
  tx: EntityManager,
  file: Spooled,
  request: ImportRequest,
  today: string,
): Promise<ImportReport> {
  const csv = openCsv(() => decoded(file));
  const rules = await readRules(tx, csv, request);
  await openStage(tx);
  const read = await stageFile(tx, csv, rules, request.onProgress);
  await resolveRows(tx);
  await applyRows(tx, today);
  const headerOf = (role: keyof Columns) => rules.header[rules.columns[role] ?? -1] ?? role;
  const outcome = await readOutcome(tx, {
    code: headerOf('code'),
    quantity: headerOf('quantity'),
    customer: headerOf('customer'),
  });
  const bad = outcome.rows.bad + read.unnamed;
  return {
    written: !request.preview && (bad === 0 || request.take === 'good'),
    preview: request.preview,
    take: request.take,
    file: { bytes: file.bytes, encoding: file.encoding, delimiter: csv.delimiter, ...columnsRead(rules) },
    ...outcome,
    rows: { read: read.rows, ...outcome.rows, bad },
    problemCounts: { ...Object.fromEntries(read.problemCounts), ...outcome.problemCounts },
    problems: [...read.problems, ...outcome.problems].sort((a, b) => a.line - b.line).slice(0, LISTED_MAX),
  };
}

/** Reads the header and what the rows are measured against. */
async function readRules(tx: EntityManager, csv: Csv, request: ImportRequest): Promise<RowRules> {
  const first = await csv.records.next();
  if (first.done) throw new Problem({ status: 422, code: 'file-empty', detail: 'The file holds no text.' });
  // a header may run over two lines, and is printed in reports
  const header = first.value.cells.map((cell) => cell.replace(/\p{Cc}+/gu, ' ').trim());
  const columns = matchColumns(header, request.columnMap ?? {}, request.channel !== undefined);
  const known = await tx.find(Channel);
  if (request.channel !== undefined && !known.some(({ code }) => code === request.channel))
    throw invalid('/query/channel', `There is no channel ${request.channel}.`, 'unknown-channel');
  return {
    header,
    columns,
    dates: request.dates,
    channel: request.channel,
    dayIn: dayInZone((await workshopOf(tx)).timeZone),
    // a code that is another channel's name stays a code
    channels: new Map([
      ...known.map(({ code, name }) => [name.toLowerCase(), code] as const),
      ...known.map(({ code }) => [code, code] as const),
    ]),
  };
}

interface FileReading {
  rows: number;
  /** Bad rows that do not even name an order line; the others are staged. */
  unnamed: number;
  problems: RowProblem[];
  problemCounts: Map<string, number>;
}

/** Reads every row and hands it to the database in chunks; of the problems only the first are kept. */
async function stageFile(
  tx: EntityManager,
  csv: Csv,
  rules: RowRules,
  onProgress: (rowsRead: number) => void = () => {},
): Promise<FileReading> {
  const reading: FileReading = { rows: 0, unnamed: 0, problems: [], problemCounts: new Map() };
  const read = rowReader(rules);
  let chunk: StagedRow[] = [];
  for await (const record of csv.records) {
    reading.rows++;
    if (reading.rows > ROWS_MAX) throw tooManyRows();
    const result = read(record);
    if ('row' in result) chunk.push({ ...result.row, bad: false });
    else {
      if (result.named) chunk.push({ ...result.named, bad: true });
      else reading.unnamed++;
      note(reading, result.problems);
    }
    if (chunk.length < CHUNK_ROWS) continue;
    await stageRows(tx, chunk);
    chunk = [];
    onProgress(reading.rows);
  }
  if (reading.rows === 0)
    throw new Problem({ status: 422, code: 'file-without-rows', detail: 'The file has a header and no rows.' });
  await stageRows(tx, chunk);
  onProgress(reading.rows);
  return reading;
}

function note(reading: FileReading, problems: readonly RowProblem[]): void {
  for (const problem of problems) {
    reading.problemCounts.set(problem.code, (reading.problemCounts.get(problem.code) ?? 0) + 1);
    if (reading.problems.length < LISTED_MAX) reading.problems.push(problem);
  }
}

function columnsRead({ header, columns }: RowRules): Pick<ImportReport['file'], 'columns' | 'unread'> {
  const read = Object.entries(columns);
  const taken = new Set(read.map(([, place]) => place));
  const unread = header.filter((text, place) => text !== '' && !taken.has(place));
  return {
    columns: Object.fromEntries(read.map(([role, place]) => [role, header[place]!])),
    unread: unread.slice(0, UNREAD_SHOWN).map((text) => text.slice(0, UNREAD_SHOWN)),
  };
}

function refusal(report: ImportReport): Problem {
  const { bad, read } = report.rows;
  const detail = `${bad} of ${read} rows cannot be taken, so nothing was written. Mend them, or send take=good.`;
  return new Problem({ status: 422, code: 'rows-refused', detail, extra: { report } });
}

function tooManyRows(): Problem {
  const detail = `The file has more than ${ROWS_MAX} rows. Split it and import the parts.`;
  return new Problem({ status: 413, code: 'too-many-rows', detail });
}
