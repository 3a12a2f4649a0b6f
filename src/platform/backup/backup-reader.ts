import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { open } from 'node:fs/promises';
import { isDeepStrictEqual } from 'node:util';
import { createGunzip } from 'node:zlib';
import type { z } from 'zod';
import { StartProblem } from '../start-problem.js';
import { linesIn } from './backup-writer.js';
import {
  anyHeader,
  closingSchema,
  endSchema,
  FORMAT,
  FRAME,
  FRAME_BYTES_MAX,
  GZIP_START,
  headerSchema,
  photoSchema,
  tableSchema,
} from './frames.js';
import type { BackupClosing, BackupHeader, BackupPhoto, BackupTable, PartEnd } from './frames.js';

/** What a backup says, in its order. An `end` comes after the bytes it was compared with. */
export type BackupFrame =
  | { is: 'header'; header: BackupHeader }
  | { is: 'table'; table: BackupTable }
  | { is: 'photo'; photo: BackupPhoto }
  | { is: 'data'; bytes: Buffer }
  | { is: 'end'; end: PartEnd }
  | { is: 'closing'; closing: BackupClosing };

export interface BackupSummary {
  header: BackupHeader;
  closing: BackupClosing;
  /** The photos inside. */
  photos: BackupPhoto[];
}

/** Reads a whole file and compares all of it with what it says of itself. Throws StartProblem. */
export async function checkBackup(file: string): Promise<BackupSummary> {
  let header: BackupHeader | undefined;
  const photos: BackupPhoto[] = [];
  for await (const frame of readBackup(file)) {
    if (frame.is === 'header') header = frame.header;
    if (frame.is === 'photo') photos.push(frame.photo);
    if (frame.is === 'closing') return { header: header!, closing: frame.closing, photos };
  }
  throw damaged(file, 'it has no end');
}

/**
 * What a file says, each piece once it was compared with what comes after it; the closing comes only where the file ends
 * there. Throws StartProblem as soon as something is not as it was written: so nothing counts until the closing came.
 */
export async function* readBackup(file: string): AsyncGenerator<BackupFrame> {
  const size = await sizeOfBackup(file);
  const source = createReadStream(file);
  const gunzip = createGunzip();
  source.on('error', (error) => gunzip.destroy(error));
  source.pipe(gunzip);
  try {
    yield* checked(file, new Bytes(gunzip), () => gunzip.bytesWritten === size);
  } catch (error) {
    if (error instanceof StartProblem || !isOfCompression(error)) throw error;
    throw damaged(file, error.message);
  } finally {
    source.destroy();
    gunzip.destroy();
  }
}

const isOfCompression = (error: unknown): error is Error =>
  error instanceof Error && 'code' in error && String(error.code).startsWith('Z_');

const damaged = (file: string, how: string) =>
  new StartProblem(`${file} is damaged or cut (${how}). Nothing of it was taken.`);

async function sizeOfBackup(file: string): Promise<number> {
  let handle;
  try {
    handle = await open(file);
  } catch (error) {
    throw new StartProblem(`Cannot read ${file}: ${(error as Error).message}.`);
  }
  try {
    const start = Buffer.alloc(GZIP_START.length);
    const { bytesRead } = await handle.read(start, 0, start.length, 0);
    if (bytesRead < start.length || !start.equals(GZIP_START))
      throw new StartProblem(
        `${file} is no backup of Lotwright, or its beginning is damaged. Nothing of it was taken.`,
      );
    return (await handle.stat()).size;
  } catch (error) {
    if (error instanceof StartProblem) throw error;
    throw new StartProblem(`Cannot read ${file}: ${(error as Error).message}.`);
  } finally {
    await handle.close();
  }
}

async function* checked(file: string, bytes: Bytes, isAllRead: () => boolean): AsyncGenerator<BackupFrame> {
  const whole = createHash('sha256');
  const sums = { tables: 0, rows: 0, photos: 0 };
  const { content: first, head } = await nextFrame(file, bytes, FRAME.header);
  yield { is: 'header', header: readHeader(file, first) };
  whole.update(head).update(first);
  for (;;) {
    const { letter, content, head: raw } = await nextFrame(file, bytes);
    if (letter === FRAME.closing) {
      const closing = json(file, content, closingSchema);
      const expected: BackupClosing = { ...sums, missing: closing.missing, sha256: whole.digest('hex') };
      if (!isDeepStrictEqual(closing, expected)) throw damaged(file, 'its parts do not add up');
      if ((await bytes.take(1)) !== undefined || !isAllRead()) throw damaged(file, 'something follows its end');
      return yield { is: 'closing', closing };
    }
    whole.update(raw).update(content);
    const part = beginningOf(file, letter, content);
    yield part;
    const { lines } = yield* partOf(file, bytes, part, (read) => whole.update(read));
    if (part.is === 'photo') sums.photos++;
    else {
      sums.tables++;
      sums.rows += lines;
    }
  }
}

function beginningOf(file: string, letter: string, content: Buffer): BackupFrame & { is: 'table' | 'photo' } {
  if (letter === FRAME.table) return { is: 'table', table: json(file, content, tableSchema) };
  if (letter === FRAME.photo) return { is: 'photo', photo: json(file, content, photoSchema) };
  throw damaged(file, 'a part has no beginning');
}

/** The bytes of a part and its end, compared with each other. */
async function* partOf(
  file: string,
  bytes: Bytes,
  part: BackupFrame & { is: 'table' | 'photo' },
  note: (read: Buffer) => void,
): AsyncGenerator<BackupFrame, PartEnd> {
  const hash = createHash('sha256');
  const found = { bytes: 0, lines: 0 };
  for (;;) {
    const { letter, content, head } = await nextFrame(file, bytes);
    note(head);
    note(content);
    if (letter === FRAME.data) {
      hash.update(content);
      found.bytes += content.length;
      if (part.is === 'table') found.lines += linesIn(content);
      yield { is: 'data', bytes: content };
      continue;
    }
    const end = json(file, content, endSchema);
    const name = part.is === 'table' ? `table ${part.table.table}` : `photo ${part.photo.sha256}`;
    const expected: PartEnd = { ...found, sha256: hash.digest('hex') };
    const isOther = part.is === 'photo' && part.photo.sha256 !== end.sha256;
    if (letter !== FRAME.end || isOther || !isDeepStrictEqual(end, expected))
      throw damaged(file, `${name} is not as it was written`);
    yield { is: 'end', end };
    return end;
  }
}

function readHeader(file: string, content: Buffer): BackupHeader {
  const { format } = json(file, content, anyHeader);
  if (format > FORMAT)
    throw new StartProblem(
      `${file} was written by a newer Lotwright, in a way this one does not read. Update this one first.`,
    );
  return json(file, content, headerSchema);
}

function json<Content>(file: string, content: Buffer, schema: z.ZodType<Content>): Content {
  let value: unknown;
  try {
    value = JSON.parse(content.toString());
  } catch {
    throw damaged(file, 'what it says of a part cannot be read');
  }
  const read = schema.safeParse(value);
  if (!read.success) throw damaged(file, 'what it says of a part cannot be read');
  return read.data;
}

async function nextFrame(
  file: string,
  bytes: Bytes,
  expected?: string,
): Promise<{ letter: string; head: Buffer; content: Buffer }> {
  const head = await bytes.take(5);
  if (head === undefined) throw damaged(file, 'its end is missing');
  const letter = head.toString('latin1', 0, 1);
  const length = head.readUInt32BE(1);
  if ((expected !== undefined && letter !== expected) || length > FRAME_BYTES_MAX)
    throw new StartProblem(`${file} is no backup of Lotwright, or damaged. Nothing of it was taken.`);
  const content = length === 0 ? Buffer.alloc(0) : await bytes.take(length);
  if (content === undefined) throw damaged(file, 'its end is missing');
  return { letter, head, content };
}

/** A stream, so many bytes at a time. */
class Bytes {
  private held: Buffer[] = [];
  private size = 0;
  private readonly chunks: AsyncIterator<Buffer>;

  constructor(stream: AsyncIterable<Buffer>) {
    this.chunks = stream[Symbol.asyncIterator]();
  }

  /** Exactly so many, or undefined where there are no more. */
  async take(count: number): Promise<Buffer | undefined> {
    while (this.size < count) {
      const { value, done } = await this.chunks.next();
      if (done) return undefined;
      this.held.push(value);
      this.size += value.length;
    }
    const all = this.held.length === 1 ? this.held[0]! : Buffer.concat(this.held);
    this.held = all.length > count ? [all.subarray(count)] : [];
    this.size = all.length - count;
    return all.subarray(0, count);
  }
}
