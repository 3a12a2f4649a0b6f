import { TextDecoder } from 'node:util';
import { Problem } from '../platform/problem.js';
import { UPLOAD_BYTES_MAX } from '../platform/upload.js';

/** What is decoded at once. */
const PIECE_BYTES = 64 * 1024;

export type Encoding = 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';

/** A file as it came, in the pieces it came in, and how its bytes are to be read. */
export interface Spooled {
  chunks: Uint8Array[];
  bytes: number;
  encoding: Encoding;
}

/**
 * What bytes 0x80 to 0x9F mean in Windows-1252; every other byte is its own code point. Five are unassigned and stay
 * control characters. Source: WHATWG Encoding Standard, index windows-1252 (encoding.spec.whatwg.org). Written out
 * because the TextDecoder of some Node 20 and 22 releases reads windows-1252 as ISO 8859-1.
 */
const WINDOWS_1252_HIGH =
  '\u20ac\x81\u201a\u0192\u201e\u2026\u2020\u2021\u02c6\u2030\u0160\u2039\u0152\x8d\u017d\x8f' +
  '\x90\u2018\u2019\u201c\u201d\u2022\u2013\u2014\u02dc\u2122\u0161\u203a\u0153\x9d\u017e\u0178';

/**
 * Takes in the whole stream and decides its encoding: by its byte order mark, else UTF-8 if every byte is valid UTF-8,
 * else Windows-1252 for all of it. Throws a 413 problem past UPLOAD_BYTES_MAX and a 422 problem for an empty file or a
 * file whose mark says UTF-8 and whose bytes say otherwise.
 */
export async function spool(stream: AsyncIterable<Uint8Array | string>): Promise<Spooled> {
  const chunks: Uint8Array[] = [];
  let bytes = 0;
  const utf8 = new TextDecoder('utf-8', { fatal: true });
  let isUtf8 = true;
  for await (const piece of unbroken(stream)) {
    const chunk = typeof piece === 'string' ? Buffer.from(piece) : piece;
    bytes += chunk.byteLength;
    if (bytes > UPLOAD_BYTES_MAX) throw tooLarge();
    // small pieces, so that what follows never holds much of the file as text, however it came
    for (let from = 0; from < chunk.byteLength; from += PIECE_BYTES)
      chunks.push(chunk.subarray(from, from + PIECE_BYTES));
    isUtf8 &&= decodes(utf8, chunk, true);
  }
  if (bytes === 0) throw new Problem({ status: 422, code: 'file-empty', detail: 'The file is empty.' });
  isUtf8 &&= decodes(utf8, undefined, false);
  return { chunks, bytes, encoding: encodingOf(headOf(chunks), isUtf8) };
}

/** The text of the file, piece by piece, without its byte order mark. Throws a 422 problem for invalid UTF-16. */
export function* decoded(file: Spooled): Generator<string> {
  if (file.encoding === 'windows-1252') {
    for (const chunk of file.chunks) yield fromWindows1252(chunk);
    return;
  }
  const decoder = new TextDecoder(file.encoding, { fatal: true });
  try {
    for (const chunk of file.chunks) yield decoder.decode(chunk, { stream: true });
    yield decoder.decode();
  } catch (error) {
    if (error instanceof TypeError) throw notEncoded(file.encoding);
    throw error;
  }
}

/** The stream's pieces. One that breaks off under way is a fault of whoever sends it: a 400 problem. */
async function* unbroken(stream: AsyncIterable<Uint8Array | string>): AsyncGenerator<Uint8Array | string> {
  try {
    yield* stream;
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : undefined;
    if (code !== 'ECONNRESET' && code !== 'ERR_STREAM_PREMATURE_CLOSE') throw error;
    throw new Problem({ status: 400, code: 'file-broke-off', detail: 'The file broke off before its end.' });
  }
}

function decodes(decoder: TextDecoder, chunk: Uint8Array | undefined, stream: boolean): boolean {
  try {
    decoder.decode(chunk, { stream });
    return true;
  } catch {
    return false;
  }
}

function headOf(chunks: readonly Uint8Array[]): number[] {
  const head: number[] = [];
  for (const chunk of chunks) {
    head.push(...chunk.subarray(0, 3 - head.length));
    if (head.length === 3) break;
  }
  return head;
}

function encodingOf(head: readonly number[], isUtf8: boolean): Encoding {
  if (head[0] === 0xff && head[1] === 0xfe) return 'utf-16le';
  if (head[0] === 0xfe && head[1] === 0xff) return 'utf-16be';
  if (isUtf8) return 'utf-8';
  if (head[0] === 0xef && head[1] === 0xbb && head[2] === 0xbf) throw notEncoded('utf-8');
  return 'windows-1252';
}

function fromWindows1252(chunk: Uint8Array): string {
  const latin1 = Buffer.from(chunk.buffer, chunk.byteOffset, chunk.byteLength).toString('latin1');
  return latin1.replace(/[\x80-\x9f]/g, (high) => WINDOWS_1252_HIGH[high.charCodeAt(0) - 0x80]!);
}

function notEncoded(encoding: Encoding): Problem {
  const detail = `The file begins as ${encoding.toUpperCase()} but holds bytes that are not. Save it again as UTF-8.`;
  return new Problem({ status: 422, code: 'file-encoding', detail });
}

function tooLarge(): Problem {
  const detail = `The file is larger than ${UPLOAD_BYTES_MAX / 1024 / 1024} MB. Split it and import the parts.`;
  return new Problem({ status: 413, code: 'file-too-large', detail });
}
