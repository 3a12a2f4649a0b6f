import { describe, expect, it } from 'vitest';
import { detectDelimiter, openCsv } from '../../src/orders/csv-reader.js';
import type { CsvRecord } from '../../src/orders/csv-reader.js';
import { decoded, spool } from '../../src/orders/encoding.js';

async function recordsOf(...pieces: string[]): Promise<CsvRecord[]> {
  const records: CsvRecord[] = [];
  for await (const record of openCsv(() => pieces).records) records.push(record);
  return records;
}

async function cellsOf(...pieces: string[]): Promise<string[][]> {
  return (await recordsOf(...pieces)).map((record) => record.cells);
}

async function* inPieces(bytes: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  for (let from = 0; from < bytes.length; from += size) yield bytes.subarray(from, from + size);
}

async function textOf(bytes: Uint8Array, size = 7): Promise<{ text: string; encoding: string }> {
  const file = await spool(inPieces(bytes, size));
  return { text: [...decoded(file)].join(''), encoding: file.encoding };
}

// RFC 4180, section 2 "Definition of the CSV Format", rules 1 to 7: the examples are the ones printed there, the results
// follow from the rules (rule 7 gives b"bb for "b""bb").
describe('CSV as RFC 4180 defines it', () => {
  it.each([
    [
      '1: each record on a line',
      'aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n',
      [
        ['aaa', 'bbb', 'ccc'],
        ['zzz', 'yyy', 'xxx'],
      ],
    ],
    [
      '2: the last line end may be missing',
      'aaa,bbb,ccc\r\nzzz,yyy,xxx',
      [
        ['aaa', 'bbb', 'ccc'],
        ['zzz', 'yyy', 'xxx'],
      ],
    ],
    ['4: spaces are part of a field', 'aaa,bbb ,ccc\r\n', [['aaa', 'bbb ', 'ccc']]],
    [
      '5: fields may be quoted',
      '"aaa","bbb","ccc"\r\nzzz,yyy,xxx',
      [
        ['aaa', 'bbb', 'ccc'],
        ['zzz', 'yyy', 'xxx'],
      ],
    ],
    [
      '6: line ends in quotes',
      '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
      [
        ['aaa', 'b\r\nbb', 'ccc'],
        ['zzz', 'yyy', 'xxx'],
      ],
    ],
    ['7: a quote is doubled', '"aaa","b""bb","ccc"', [['aaa', 'b"bb', 'ccc']]],
  ])('rule %s', async (_rule, text, expected) => {
    expect(await cellsOf(text)).toEqual(expected);
    expect(await cellsOf(...text)).toEqual(expected);
  });

  it('reads LF and CR as it reads CRLF, also mixed', async () => {
    expect(await cellsOf(...'a,b\nc,d\re,f\r\ng,h')).toEqual([
      ['a', 'b'],
      ['c', 'd'],
      ['e', 'f'],
      ['g', 'h'],
    ]);
  });

  it('names the line each record begins in, past quoted line ends and empty lines', async () => {
    const records = await recordsOf('a,b\r\n"1\r\n2\n3",x\r\n\r\n,\r\ny,z\r\n');
    expect(records).toEqual([
      { line: 1, cells: ['a', 'b'] },
      { line: 2, cells: ['1\r\n2\n3', 'x'] },
      { line: 7, cells: ['y', 'z'] },
    ]);
  });

  it('takes a quote inside an unquoted cell, or after a quoted word, as text', async () => {
    expect(await cellsOf('a,b\n4" candle,1\n"Big" candle,2\nlast,3\n')).toEqual([
      ['a', 'b'],
      ['4" candle', '1'],
      ['"Big" candle', '2'],
      ['last', '3'],
    ]);
  });

  it.each([
    ['csv-unclosed-quote', 'a,b\n1,2\n3,"open\n4,5\n', 3],
    ['csv-record-too-long', `a,b\n1,"${'x'.repeat(1_100_000)}`, 2],
    ['csv-not-text', 'a,b\n1,2\n3,\u0000\n', 3],
  ])('refuses with %s and the line', async (code, text, line) => {
    await expect(recordsOf(text)).rejects.toMatchObject({ status: 422, code, extra: { line } });
  });
});

describe('the delimiter', () => {
  it.each([
    ['order,code,quantity\n1,A,2\n', ','],
    ['order;code;quantity\n1;A;2,5\n', ';'],
    ['order\tcode\tquantity\n1\tA, B\t2\n', '\t'],
    ['order|code|quantity\n1|A;B|2\n', '|'],
    ['"order, of the shop";"code, ours";quantity\n1;A;2\n', ';'],
    ['"a;b;c;d;e",code\n"x;y;z;1;2",A\n', ','],
    ['note, and more;code;quantity\nfirst;A;2\nsecond, third, fourth;B;3\n', ';'],
    ['one column\nA\n', ','],
  ])('of %j is %j', (text, expected) => expect(detectDelimiter(text, true)).toBe(expected));

  it('may be declared in a first line of its own', async () => {
    const records = await recordsOf(...'sep=;\r\na,b;c\r\n1;2\r\n');
    expect(records).toEqual([
      { line: 2, cells: ['a,b', 'c'] },
      { line: 3, cells: ['1', '2'] },
    ]);
  });
});

describe('the encoding', () => {
  // WHATWG Encoding Standard, index-windows-1252.txt: the code points of the bytes 0x80 to 0x9F, in order.
  const HIGH = [
    0x20ac, 0x81, 0x201a, 0x192, 0x201e, 0x2026, 0x2020, 0x2021, 0x2c6, 0x2030, 0x160, 0x2039, 0x152, 0x8d, 0x17d, 0x8f,
    0x90, 0x2018, 0x2019, 0x201c, 0x201d, 0x2022, 0x2013, 0x2014, 0x2dc, 0x2122, 0x161, 0x203a, 0x153, 0x9d, 0x17e,
    0x178,
  ];

  it('Windows-1252 decodes every byte as the Encoding Standard says', async () => {
    const bytes = Uint8Array.from({ length: 256 }, (_, byte) => byte);
    const { text, encoding } = await textOf(bytes);
    expect(encoding).toBe('windows-1252');
    const expected = [...bytes].map((byte) => HIGH[byte - 0x80] ?? byte);
    expect([...text].map((character) => character.codePointAt(0))).toEqual(expected);
  });

  it.each([1, 2, 3, 1000])('UTF-8 is kept whole where characters are cut into pieces of %i bytes', async (size) => {
    const text = 'Zoë, Łódź, 東京, 🕯️';
    expect(await textOf(Buffer.from(text), size)).toEqual({ text, encoding: 'utf-8' });
    expect(await textOf(Buffer.from(`\ufeff${text}`), size)).toEqual({ text, encoding: 'utf-8' });
  });

  it('one byte that is not UTF-8, at the very end, makes the whole file Windows-1252', async () => {
    const bytes = Buffer.concat([Buffer.from('é'), Buffer.from([0xe9])]);
    expect(await textOf(bytes)).toEqual({ text: 'Ã©é', encoding: 'windows-1252' });
  });

  it.each([1, 5, 1000])('UTF-16 is told by its mark, in pieces of %i bytes', async (size) => {
    const text = 'Zoë 🕯️';
    const little = Buffer.from(`\ufeff${text}`, 'utf16le');
    expect(await textOf(little, size)).toEqual({ text, encoding: 'utf-16le' });
    expect(await textOf(Buffer.from(little).swap16(), size)).toEqual({ text, encoding: 'utf-16be' });
  });

  it('refuses an empty file, broken UTF-8 under its mark, and half a UTF-16 character', async () => {
    await expect(textOf(new Uint8Array())).rejects.toMatchObject({ status: 422, code: 'file-empty' });
    const brokenUtf8 = Buffer.from([0xef, 0xbb, 0xbf, 0xe9]);
    await expect(textOf(brokenUtf8)).rejects.toMatchObject({ status: 422, code: 'file-encoding' });
    const brokenUtf16 = Buffer.from([0xff, 0xfe, 0x61, 0x00, 0x62]);
    await expect(textOf(brokenUtf16)).rejects.toMatchObject({ status: 422, code: 'file-encoding' });
  });

  it('calls a stream that breaks off what it is, and passes on any other fault', async () => {
    async function* broken(error: Error): AsyncGenerator<Uint8Array> {
      yield Buffer.from('a,b');
      throw error;
    }
    const reset = Object.assign(new Error('aborted'), { code: 'ECONNRESET' });
    await expect(spool(broken(reset))).rejects.toMatchObject({ status: 400, code: 'file-broke-off' });
    await expect(spool(broken(new Error('disk')))).rejects.toThrow('disk');
  });

  it('refuses more than 32 MB without keeping it', async () => {
    const megabyte = Buffer.alloc(1024 * 1024, 'a');
    let sent = 0;
    async function* endless(): AsyncGenerator<Uint8Array> {
      for (; ; sent++) yield megabyte;
    }
    await expect(spool(endless())).rejects.toMatchObject({ status: 413, code: 'file-too-large' });
    expect(sent).toBe(32);
  });
});

describe('a file that is no table of orders', () => {
  const ofCommas = (megabytes: number) => Array.from({ length: megabytes * 16 }, () => ','.repeat(64 * 1024));

  it('is refused at the line with too many cells, before any of them is cut', async () => {
    const refused = recordsOf('order,sku\r\n', 'A-1,CANDLE\r\n', ...ofCommas(30));
    await expect(refused).rejects.toMatchObject({
      status: 422,
      code: 'csv-too-many-cells',
      message: 'Line 3 has more than 10,000 cells, which no table of orders has. Is it the right file?',
      extra: { line: 3 },
    });
  });

  it('is read up to ten thousand cells in a row', async () => {
    const [most] = await cellsOf(`a${','.repeat(9_999)}`);
    expect(most).toHaveLength(10_000);
    await expect(cellsOf(`a${','.repeat(10_000)}`)).rejects.toMatchObject({ code: 'csv-too-many-cells' });
  });

  it('lets others be served while it is read', async () => {
    const pieces = Array.from({ length: 50 }, (_, at) => `A-${at},CANDLE\n`.repeat(5_000));
    let served = 0;
    let isRead = false;
    const serve = () => void (!isRead && setImmediate(() => (served++, serve())));
    serve();
    expect(await recordsOf(...pieces)).toHaveLength(250_000);
    isRead = true;
    expect(served).toBeGreaterThanOrEqual(pieces.length);
  });
});
