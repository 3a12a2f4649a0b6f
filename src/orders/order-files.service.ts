import { Injectable, Logger } from '@nestjs/common';
import type { OnModuleDestroy } from '@nestjs/common';
import { Database } from '../platform/database.js';
import { conflict, notFound, Problem } from '../platform/problem.js';
import { problemOf } from '../platform/problem-filter.js';
import type { ColumnMap } from './columns.js';
import { spool } from './encoding.js';
import type { ImportReport } from './import.schema.js';
import { ImportService } from './import.service.js';
import type { DateOrder } from './order-dates.js';

/** How a file is to be read. */
export interface FileSettings {
  /** The channel of rows that name none. */
  channel: string | null;
  dates: DateOrder | null;
  columnMap: ColumnMap;
}

export interface OrderFile extends FileSettings {
  id: number;
  name: string;
  /** Lines of text in it: it has at most so many rows. */
  lines: number;
  /** What became of its rows; null until they are taken. */
  report: ImportReport | null;
}

/** What is being done with a file, or was done last. */
export interface Reading {
  /** look: nothing is written. */
  kind: 'look' | 'take';
  rowsRead: number;
  /** Null while it goes on. `report` alone after a look; with `problem` where the rows were refused. */
  outcome: { report?: ImportReport; problem?: Problem } | null;
  done: Promise<void>;
}

/** Days a file waits to be taken. */
const KEPT_DAYS = 7;
/** Each holds a connection to the database until it is through. */
const AT_ONCE_MAX = 3;
/** Finished readings that are remembered; a forgotten one is simply done again. */
const REMEMBERED_MAX = 20;
const NEW_LINE = 0x0a;

/**
 * Shops' files between the first look and the taking of their rows. A file can take seconds, so reading goes on by itself
 * and whoever asks is told how far it is.
 */
@Injectable()
export class OrderFilesService implements OnModuleDestroy {
  private readonly logger = new Logger('orders');
  private readonly readings = new Map<number, Reading>();

  constructor(
    private readonly database: Database,
    private readonly imports: ImportService,
  ) {}

  /** What is still being read is read to its end before the database goes. */
  async onModuleDestroy(): Promise<void> {
    await Promise.all([...this.readings.values()].map((reading) => reading.done));
  }

  /** Keeps a file as it came; those that waited too long go. Answers its id. Throws what `spool` throws. */
  async keep(
    who: string,
    file: { name: string; stream: AsyncIterable<Uint8Array | string>; channel: string | null; dates: DateOrder | null },
  ): Promise<number> {
    const { chunks } = await spool(file.stream);
    const content = Buffer.concat(chunks);
    return this.database.act({ who }, async (tx) => {
      await tx.query(`delete from order_file where created_at < now() - make_interval(days => $1)`, [KEPT_DAYS]);
      const [row] = await tx.query<{ id: number }[]>(
        'insert into order_file (name, content, lines, channel, dates) values ($1, $2, $3, $4, $5) returning id',
        [file.name, content, linesIn(content), file.channel, file.dates],
      );
      return row!.id;
    });
  }

  /** Throws a 404 problem. */
  get(id: number): Promise<OrderFile> {
    return this.database.read(async (tx) => {
      const [file] = await tx.query<OrderFile[]>(
        `select id, name, lines, channel, dates, column_map as "columnMap", report from order_file where id = $1`,
        [id],
      );
      if (!file) throw notFound('order file', id);
      return file;
    });
  }

  /** Reads it another way from now on. Throws 404, or 409 `taken` and `being-read`. */
  async set(who: string, id: number, settings: FileSettings): Promise<void> {
    await this.waiting(id);
    await this.database.act({ who }, (tx) =>
      tx.query('update order_file set channel = $2, dates = $3, column_map = $4 where id = $1', [
        id,
        settings.channel,
        settings.dates,
        JSON.stringify(settings.columnMap),
      ]),
    );
    this.readings.delete(id);
  }

  /** Forgets what was seen in it, since what it is measured against has changed. */
  lookAgain(id: number): void {
    if (this.readings.get(id)?.outcome) this.readings.delete(id);
  }

  /** How it stands with a file that waits: what goes on with it, or a look that is begun now. */
  async reading(who: string, file: OrderFile, waitMs: number): Promise<Reading> {
    const reading = this.readings.get(file.id) ?? this.begin(who, file, 'look', 'all');
    await within(reading.done, waitMs);
    return reading;
  }

  /** Begins to take its rows: all, or the good ones. Throws 404, or 409 `taken`, `being-read`, `busy`. */
  async take(who: string, id: number, take: 'all' | 'good'): Promise<void> {
    this.begin(who, await this.waiting(id), 'take', take);
  }

  /** Throws a file away that waits. Throws 404, or 409 `taken` and `being-read`. */
  async discard(who: string, id: number): Promise<void> {
    await this.waiting(id);
    await this.database.act({ who }, (tx) =>
      tx.query('delete from order_file where id = $1 and content is not null', [id]),
    );
    this.readings.delete(id);
  }

  private async waiting(id: number): Promise<OrderFile> {
    const file = await this.get(id);
    if (file.report) throw conflict('taken', 'The rows of this file are taken already.');
    if (this.readings.get(id)?.outcome === null)
      throw conflict('being-read', 'This file is being read. Wait until it is through.');
    return file;
  }

  private begin(who: string, file: OrderFile, kind: Reading['kind'], take: 'all' | 'good'): Reading {
    const running = [...this.readings.values()].filter(({ outcome }) => outcome === null);
    if (running.length >= AT_ONCE_MAX)
      throw conflict('busy', 'Other files are being read. Try again when they are through.');
    const reading: Reading = { kind, rowsRead: 0, outcome: null, done: Promise.resolve() };
    this.readings.delete(file.id);
    this.readings.set(file.id, reading);
    reading.done = this.work(who, file, reading, take);
    for (const [id, { outcome }] of this.readings) {
      if (this.readings.size <= REMEMBERED_MAX) break;
      if (outcome) this.readings.delete(id);
    }
    return reading;
  }

  /** Never fails: what went wrong is the outcome. */
  private async work(who: string, file: OrderFile, reading: Reading, take: 'all' | 'good'): Promise<void> {
    try {
      const report = await this.imports.importOrders({
        stream: this.contentOf(file.id),
        who,
        channel: file.channel ?? undefined,
        dates: file.dates ?? undefined,
        columnMap: file.columnMap,
        take,
        preview: reading.kind === 'look',
        onProgress: (rowsRead) => void (reading.rowsRead = rowsRead),
        onWritten: async (tx, written) => {
          const [kept] = await tx.query<[unknown[], number]>(
            'update order_file set content = null, report = $2 where id = $1 and content is not null returning id',
            [file.id, JSON.stringify(written)],
          );
          if (kept.length === 0) throw conflict('taken', 'The rows of this file are taken already.');
        },
      });
      reading.outcome = { report };
    } catch (error) {
      const problem = problemOf(error);
      if (problem.status >= 500) this.logger.error(error);
      reading.outcome = { problem, report: problem.extra['report'] as ImportReport | undefined };
    }
  }

  private async *contentOf(id: number): AsyncGenerator<Uint8Array> {
    const [row] = await this.database.read((tx) =>
      tx.query<{ content: Buffer | null }[]>('select content from order_file where id = $1', [id]),
    );
    if (!row?.content) throw conflict('taken', 'The rows of this file are taken already.');
    yield row.content;
  }
}

function linesIn(content: Buffer): number {
  let lines = 1;
  for (let at = content.indexOf(NEW_LINE); at >= 0; at = content.indexOf(NEW_LINE, at + 1)) lines++;
  return lines;
}

async function within(done: Promise<void>, ms: number): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<void>((resolve) => (timer = setTimeout(resolve, ms)));
  await Promise.race([done, late]);
  clearTimeout(timer);
}
