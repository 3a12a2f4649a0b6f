import { createHash } from 'node:crypto';
import type { Hash } from 'node:crypto';
import { createWriteStream, existsSync } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';
import { once } from 'node:events';
import { dirname } from 'node:path';
import { Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import type { Gzip } from 'node:zlib';
import { StartProblem } from '../start-problem.js';
import { DATA_BYTES_MAX, FRAME, GZIP_START } from './frames.js';
import type { BackupClosing, BackupHeader, BackupPhoto, BackupTable, FrameLetter, PartEnd } from './frames.js';

const NEWLINE = 0x0a;

/** Writes one backup, under another name until it is whole and on the disk. */
export class BackupWriter {
  private readonly gzip: Gzip = createGzip();
  private readonly written: Promise<void>;
  /** Of every frame so far. */
  private readonly whole: Hash = createHash('sha256');
  private readonly sums = { tables: 0, rows: 0, photos: 0 };

  private constructor(
    private readonly file: string,
    private readonly part: string,
  ) {
    // only whoever made it reads it: it holds all a workshop knows of its customers
    const disk = createWriteStream(part, { mode: 0o600, flush: true });
    this.written = pipeline(this.gzip, sameStart(), disk);
    // whoever writes next, or closes, is told
    this.written.catch(() => {});
  }

  /** Throws StartProblem where there is a file already and it may not be replaced, or no folder for it. */
  static async create(
    file: string,
    header: BackupHeader,
    { overwrite = false }: { overwrite?: boolean } = {},
  ): Promise<BackupWriter> {
    if (!overwrite && existsSync(file))
      throw new StartProblem(`${file} is there already. Choose another name, or say --overwrite.`);
    const part = `${file}.part`;
    await rm(part, { force: true });
    const writer = new BackupWriter(file, part);
    await writer.frame(FRAME.header, header);
    return writer;
  }

  table(table: BackupTable, content: AsyncIterable<Buffer>): Promise<PartEnd> {
    return this.content(FRAME.table, table, content, ({ lines }) => {
      this.sums.tables++;
      this.sums.rows += lines;
    });
  }

  photo(photo: BackupPhoto, bytes: Buffer): Promise<PartEnd> {
    return this.content(FRAME.photo, photo, [bytes], () => this.sums.photos++);
  }

  /** Ends the file, waits until it is on the disk, and gives it its name. */
  async close(missing: string[]): Promise<BackupClosing> {
    const closing: BackupClosing = { ...this.sums, missing, sha256: this.whole.copy().digest('hex') };
    await this.frame(FRAME.closing, closing);
    this.gzip.end();
    await this.written;
    await rename(this.part, this.file);
    await flushFolder(dirname(this.file));
    return closing;
  }

  /** Leaves nothing behind. */
  async discard(): Promise<void> {
    this.gzip.destroy();
    await this.written.catch(() => {});
    await rm(this.part, { force: true });
  }

  private async content(
    letter: FrameLetter,
    about: BackupTable | BackupPhoto,
    content: AsyncIterable<Buffer> | Iterable<Buffer>,
    count: (end: PartEnd) => void,
  ): Promise<PartEnd> {
    await this.frame(letter, about);
    const hash = createHash('sha256');
    let [bytes, lines] = [0, 0];
    for await (const chunk of inPieces(content)) {
      hash.update(chunk);
      bytes += chunk.length;
      if (letter === FRAME.table) lines += linesIn(chunk);
      await this.send(FRAME.data, chunk);
    }
    const end: PartEnd = { bytes, lines, sha256: hash.digest('hex') };
    await this.frame(FRAME.end, end);
    count(end);
    return end;
  }

  private frame(letter: FrameLetter, content: object): Promise<void> {
    return this.send(letter, Buffer.from(JSON.stringify(content)));
  }

  private async send(letter: FrameLetter, content: Buffer): Promise<void> {
    const head = Buffer.alloc(5);
    head.write(letter, 0, 'latin1');
    head.writeUInt32BE(content.length, 1);
    for (const bytes of [head, content]) {
      this.whole.update(bytes);
      if (this.gzip.destroyed) await this.written;
      // what the disk refuses is thrown here too, instead of waited for
      if (!this.gzip.write(bytes)) await Promise.race([once(this.gzip, 'drain'), this.written]);
    }
  }
}

export function linesIn(bytes: Buffer): number {
  let lines = 0;
  for (let at = bytes.indexOf(NEWLINE); at >= 0; at = bytes.indexOf(NEWLINE, at + 1)) lines++;
  return lines;
}

/** The same bytes in pieces neither tiny, as PostgreSQL sends rows, nor beyond what a frame may hold. */
async function* inPieces(content: AsyncIterable<Buffer> | Iterable<Buffer>): AsyncGenerator<Buffer> {
  let [held, size]: [Buffer[], number] = [[], 0];
  for await (const chunk of content) {
    held.push(chunk);
    size += chunk.length;
    if (size < DATA_BYTES_MAX) continue;
    const all = Buffer.concat(held);
    const rest = all.length % DATA_BYTES_MAX;
    for (let at = 0; at < all.length - rest; at += DATA_BYTES_MAX) yield all.subarray(at, at + DATA_BYTES_MAX);
    [held, size] = [rest > 0 ? [all.subarray(all.length - rest)] : [], rest];
  }
  if (size > 0) yield Buffer.concat(held);
}

/** The first bytes of a gzip stream name the system that wrote it; here they are the same everywhere. */
function sameStart(): Transform {
  let left = GZIP_START;
  return new Transform({
    transform(chunk: Buffer, _encoding, done) {
      const count = Math.min(left.length, chunk.length);
      done(null, count === 0 ? chunk : Buffer.concat([left.subarray(0, count), chunk.subarray(count)]));
      left = left.subarray(count);
    },
  });
}

/** So that the name outlasts a loss of power too; where folders cannot be opened (Windows) the system sees to it itself. */
async function flushFolder(folder: string): Promise<void> {
  try {
    const handle = await open(folder);
    await handle.sync().finally(() => handle.close());
  } catch (error) {
    if (process.platform !== 'win32') throw error;
  }
}
