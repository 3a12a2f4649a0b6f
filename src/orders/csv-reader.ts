import { Readable } from 'node:stream';
import { setImmediate } from 'node:timers/promises';
import { CsvError, parse } from 'csv-parse';
import { Problem } from '../platform/problem.js';

export const DELIMITERS = [',', ';', '\t', '|'] as const;
export type Delimiter = (typeof DELIMITERS)[number];

/** The largest record: more text than that without a record's end is a quote somebody forgot to close. */
const RECORD_BYTES_MAX = 1024 * 1024;
/** More cells than any shop exports in one row, also where a cell holds a long text: each costs time and room. */
const CELLS_MAX = 10_000;
const [LF, CR] = [0x0a, 0x0d];
const HEAD_CHARACTERS = 64 * 1024;
const HEAD_RECORDS = 20;

/** One record and the line of the file, counted from 1, that it begins in. */
export interface CsvRecord {
  line: number;
  cells: string[];
}

export interface Csv {
  delimiter: Delimiter;
  /** The records in the file's order, the header first; records without any text are left out. */
  records: AsyncGenerator<CsvRecord>;
}

/**
 * Reads CSV (RFC 4180) as its text comes: the delimiter is found from the head, records end with CRLF, LF or CR, quoted
 * cells may hold delimiters, quotes and line ends. `texts` may be called more than once and answers the same pieces.
 * A quote inside an unquoted cell is taken as text. Records may differ in length: the caller decides about that.
 * `records` throws 422 problems naming the line: `csv-not-text` (a NUL), `csv-too-many-cells`, `csv-record-too-long`,
 * `csv-unclosed-quote`.
 */
export function openCsv(texts: () => Iterable<string>): Csv {
  const head = headOf(texts());
  const declared = /^sep=([,;\t|])(?:\r\n|\n|\r)/i.exec(head.text);
  const delimiter = declared ? (declared[1] as Delimiter) : detectDelimiter(head.text, head.whole);
  return { delimiter, records: readRecords(texts, delimiter, declared?.[0].length ?? 0) };
}

/**
 * The delimiter of the text: the one that cuts the first record into the most cells, outside quotes, and the records
 * after it into as many. A comma when none of them occurs. `whole` says that the text does not break off.
 */
export function detectDelimiter(head: string, whole: boolean): Delimiter {
  let best: Delimiter = ',';
  let bestScore = 0;
  for (const delimiter of DELIMITERS) {
    const counts = cellCounts(head, delimiter, whole);
    const first = counts[0] ?? 1;
    const score = ((first - 1) * counts.filter((count) => count === first).length) / Math.max(counts.length, 1);
    if (score > bestScore) [best, bestScore] = [delimiter, score];
  }
  return best;
}

/** How many cells the first records would have with this delimiter; empty records are left out. */
function cellCounts(text: string, delimiter: Delimiter, whole: boolean): number[] {
  const counts: number[] = [];
  let cells = 1;
  let quoted = false;
  let wasQuoted = false;
  let cellStart = 0;
  let recordStart = 0;
  for (let at = 0; at < text.length && counts.length < HEAD_RECORDS; at++) {
    const character = text[at];
    // a doubled quote closes and opens again, which comes to the same
    if (character === '"' && quoted) quoted = false;
    else if (character === '"' && (at === cellStart || (wasQuoted && text[at - 1] === '"'))) quoted = wasQuoted = true;
    else if (quoted) continue;
    else if (character === delimiter) [cells, cellStart, wasQuoted] = [cells + 1, at + 1, false];
    else if (character === '\n' || character === '\r') {
      if (at > recordStart) counts.push(cells);
      [cells, cellStart, recordStart, wasQuoted] = [1, at + 1, at + 1, false];
    }
  }
  // a record that breaks off says nothing, unless it is the last of the file or there is no other
  if (text.length > recordStart && counts.length < HEAD_RECORDS && (whole || counts.length === 0)) counts.push(cells);
  return counts;
}

function headOf(texts: Iterable<string>): { text: string; whole: boolean } {
  let text = '';
  for (const piece of texts) {
    text += piece;
    if (text.length >= HEAD_CHARACTERS) return { text: text.slice(0, HEAD_CHARACTERS), whole: false };
  }
  return { text, whole: true };
}

async function* readRecords(
  texts: () => Iterable<string>,
  delimiter: Delimiter,
  skipped: number,
): AsyncGenerator<CsvRecord> {
  const source = Readable.from(checkedText(texts, { delimiter, skipped }));
  // counted while parsing: an error throws away the records that wait to be read
  let line = skipped > 0 ? 2 : 1;
  const numbered = (cells: string[]): CsvRecord | null => {
    const record = cells.some((cell) => cell.trim() !== '') ? { line, cells } : null;
    line += 1 + cells.reduce((sum, cell) => sum + lineEndsIn(cell), 0);
    return record;
  };
  const parser = parse({
    delimiter,
    record_delimiter: ['\r\n', '\n', '\r'],
    relax_column_count: true,
    relax_quotes: true,
    max_record_size: RECORD_BYTES_MAX,
    // its type allows another shape of record only where the header names the cells
    on_record: numbered as unknown as (cells: string[]) => string[],
  });
  source.on('error', (error) => parser.destroy(error));
  source.pipe(parser);
  try {
    yield* parser as AsyncIterable<CsvRecord>;
  } catch (error) {
    throw error instanceof CsvError ? csvProblem(error, line) : error;
  } finally {
    source.destroy();
  }
}

/**
 * The text without its first `skipped` characters, a piece at a time with others served in between. Throws a 422 problem at
 * the first NUL, and at the first line with too many cells, before it is cut into them.
 */
async function* checkedText(
  texts: () => Iterable<string>,
  { delimiter, skipped }: { delimiter: Delimiter; skipped: number },
): AsyncGenerator<string> {
  const count = cellCounter(delimiter);
  let passed = 0;
  for (const piece of texts()) {
    const nul = piece.indexOf('\0');
    if (nul >= 0) throw notText(texts(), passed + nul);
    count(piece);
    const text = passed < skipped ? piece.slice(skipped - passed) : piece;
    passed += piece.length;
    // an empty string would end the stream early
    if (text !== '') yield text;
    await setImmediate();
  }
}

/** Counts the cells of each line as the text comes, quoted or not. Throws the 422 problem where they are too many. */
function cellCounter(delimiter: Delimiter): (piece: string) => void {
  const mark = delimiter.charCodeAt(0);
  let line = 1;
  let cells = 1;
  let last = 0;
  return (piece) => {
    for (let at = 0; at < piece.length; at++) {
      const code = piece.charCodeAt(at);
      if (code === mark && ++cells > CELLS_MAX) throw tooManyCells(line);
      if (code === LF || code === CR) {
        // CRLF is one line end
        if (code === CR || last !== CR) line++;
        cells = 1;
      }
      last = code;
    }
  };
}

function tooManyCells(line: number): Problem {
  const most = CELLS_MAX.toLocaleString('en');
  const detail = `Line ${line} has more than ${most} cells, which no table of orders has. Is it the right file?`;
  return new Problem({ status: 422, code: 'csv-too-many-cells', detail, extra: { line } });
}

/** How many line ends a text holds; CRLF is one. */
function lineEndsIn(text: string): number {
  if (!text.includes('\n') && !text.includes('\r')) return 0;
  return text.match(/\r\n|\n|\r/g)?.length ?? 0;
}

function notText(texts: Iterable<string>, position: number): Problem {
  let before = '';
  for (const piece of texts) {
    before += piece;
    if (before.length >= position) break;
  }
  const line = 1 + lineEndsIn(before.slice(0, position));
  const detail = `Line ${line} holds a NUL character, so this is not a text file. Save it as CSV in UTF-8.`;
  return new Problem({ status: 422, code: 'csv-not-text', detail, extra: { line } });
}

function csvProblem(error: CsvError, line: number): Problem {
  const [code, detail] =
    error.code === 'CSV_MAX_RECORD_SIZE'
      ? [
          'csv-record-too-long',
          `The record that begins in line ${line} is longer than 1 MB. Is a quote left open there?`,
        ]
      : error.code === 'CSV_QUOTE_NOT_CLOSED'
        ? ['csv-unclosed-quote', `A quote in the record that begins in line ${line} is never closed.`]
        : ['csv-unreadable', `The record that begins in line ${line} cannot be read as CSV.`];
  return new Problem({ status: 422, code, detail, extra: { line } });
}
