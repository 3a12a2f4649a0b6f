import { createHash, randomBytes } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { checkBackup, readBackup } from '../src/platform/backup/backup-reader.js';
import { BackupWriter } from '../src/platform/backup/backup-writer.js';
import { DATA_BYTES_MAX, FRAME_BYTES_MAX, GZIP_START } from '../src/platform/backup/frames.js';
import type { BackupHeader } from '../src/platform/backup/frames.js';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-file-'));
const file = join(folder, 'a.backup');
afterAll(() => rmSync(folder, { recursive: true }));
beforeEach(() => {
  for (const name of readdirSync(folder)) rmSync(join(folder, name), { recursive: true });
});

const HEADER: BackupHeader = {
  file: 'lotwright-backup',
  format: 1,
  program: '0.2.0',
  postgres: 18,
  migrations: ['A1764000000001'],
  madeAt: '2026-03-02T08:00:00.000Z',
  photos: 'inside',
  sequences: [{ table: 'item', column: 'id', last: '7' }],
};

async function* of(...texts: string[]): AsyncGenerator<Buffer> {
  for (const text of texts) yield Buffer.from(text);
}

const hash = (bytes: Buffer) => createHash('sha256').update(bytes).digest('hex');

/** Two tables, one of them empty, and a photo. */
async function write(): Promise<Buffer> {
  const writer = await BackupWriter.create(file, HEADER);
  await writer.table({ table: 'item', columns: ['id', 'name'] }, of('1\tSalt\n2\tTw', 'o\\nlines\n'));
  await writer.table({ table: 'lot', columns: ['id'] }, of());
  const photo = Buffer.from('as if it were a picture\n');
  await writer.photo({ sha256: hash(photo), type: 'image/png' }, photo);
  await writer.close(['f'.repeat(64)]);
  return readFileSync(file);
}

/** What reading says of these bytes, or that it found nothing wrong. */
async function saidOf(bytes: Buffer): Promise<string> {
  const other = join(folder, 'b.backup');
  writeFileSync(other, bytes);
  try {
    await checkBackup(other);
    return 'nothing';
  } catch (error) {
    expect(error).toMatchObject({ name: 'StartProblem' });
    return (error as Error).message.replace(`${other} `, '');
  }
}

/** As it lies in the file, with whatever was done to its frames: the compression knows nothing wrong of it. */
function compressed(frames: Buffer): Buffer {
  const bytes = gzipSync(frames);
  GZIP_START.copy(bytes);
  return bytes;
}

function frame(letter: string, content: object | string): Buffer {
  const bytes = Buffer.from(typeof content === 'string' ? content : JSON.stringify(content));
  const head = Buffer.alloc(5);
  head.write(letter, 'latin1');
  head.writeUInt32BE(bytes.length, 1);
  return Buffer.concat([head, bytes]);
}

describe('the file of a backup', () => {
  it('says what it was told, in its order, and how much of it there is', async () => {
    await write();
    const said: string[] = [];
    for await (const part of readBackup(file)) {
      if (part.is === 'data') said.push(part.bytes.toString());
      else if (part.is === 'table') said.push(`${part.table.table}(${part.table.columns.join()})`);
      else if (part.is === 'end') said.push(`${part.end.lines} lines, ${part.end.bytes} bytes`);
      else said.push(part.is);
    }
    expect(said).toEqual([
      'header',
      'item(id,name)',
      '1\tSalt\n2\tTwo\\nlines\n',
      '2 lines, 20 bytes',
      'lot(id)',
      '0 lines, 0 bytes',
      'photo',
      'as if it were a picture\n',
      '0 lines, 24 bytes',
      'closing',
    ]);
    const { header, closing, photos } = await checkBackup(file);
    expect(header).toEqual(HEADER);
    expect(closing).toMatchObject({ tables: 2, rows: 2, photos: 1, missing: ['f'.repeat(64)] });
    expect(photos).toHaveLength(1);
    expect(readdirSync(folder)).toEqual(['a.backup']);
  });

  it('carries parts longer than a frame, in pieces', async () => {
    const writer = await BackupWriter.create(file, HEADER);
    const long = randomBytes(2 * DATA_BYTES_MAX + 17);
    await writer.photo({ sha256: hash(long), type: 'image/jpeg' }, long);
    await writer.close([]);
    const pieces: Buffer[] = [];
    for await (const part of readBackup(file)) if (part.is === 'data') pieces.push(part.bytes);
    expect(pieces.map(({ length }) => length)).toEqual([DATA_BYTES_MAX, DATA_BYTES_MAX, 17]);
    expect(Buffer.concat(pieces).equals(long)).toBe(true);
  });

  it('is refused when any one byte of it is another', async () => {
    const bytes = await write();
    expect(await saidOf(bytes)).toBe('nothing');
    const passed: number[] = [];
    for (let at = 0; at < bytes.length; at++) {
      const changed = Buffer.from(bytes);
      changed[at] = changed[at]! ^ (1 << (at % 8));
      if (!(await saidOf(changed)).endsWith('Nothing of it was taken.')) passed.push(at);
    }
    expect(bytes.length).toBeGreaterThan(300);
    expect(passed).toEqual([]);
  });

  it('is refused when it is cut anywhere, or goes on', async () => {
    const bytes = await write();
    const passed: number[] = [];
    for (let length = 0; length < bytes.length; length++)
      if (!(await saidOf(bytes.subarray(0, length))).endsWith('Nothing of it was taken.')) passed.push(length);
    expect(passed).toEqual([]);
    for (const more of [Buffer.alloc(1), Buffer.from('x'), bytes])
      expect(await saidOf(Buffer.concat([bytes, more]))).toMatch(/^is damaged or cut/);
  });

  it('is refused when its parts are not as they were written, though the compression is', async () => {
    const frames = gunzipSync(await write());
    const closing = frames.lastIndexOf('Z\0\0');
    const table = frames.indexOf('T\0\0');
    const second = frames.indexOf('T\0\0', table + 1);
    const changed = (from: string, to: string) => Buffer.from(frames.toString('latin1').replace(from, to), 'latin1');
    const refused: [string, Buffer, RegExp][] = [
      ['a row', changed('Salt', 'Malt'), /table item is not as it was written/],
      ['a photo', changed('a picture', 'a Picture'), /photo [0-9a-f]{64} is not as it was written/],
      ['the header', changed('"postgres":18', '"postgres":15'), /parts do not add up/],
      ['a column', changed('"name"]', '"nama"]'), /parts do not add up/],
      ['no closing', frames.subarray(0, closing), /its end is missing/],
      ['half a closing', frames.subarray(0, closing + 9), /its end is missing/],
      ['a part left out', Buffer.concat([frames.subarray(0, table), frames.subarray(second)]), /do not add up/],
      ['no header', frames.subarray(table), /is no backup of Lotwright/],
      ['a frame without a part', Buffer.concat([frames.subarray(0, table), frame('D', 'x')]), /no beginning/],
      ['something that is no JSON', Buffer.concat([frames.subarray(0, table), frame('T', 'x')]), /cannot be read/],
    ];
    for (const [name, content, said] of refused) expect(await saidOf(compressed(content)), name).toMatch(said);
    const endless = Buffer.concat([frames.subarray(0, table), frame('D', 'x')]);
    endless.writeUInt32BE(FRAME_BYTES_MAX + 1, table + 1);
    expect(await saidOf(compressed(endless))).toMatch(/or damaged/);
  });

  it('is told from a text, another compressed file, a later format and no file', async () => {
    for (const other of [Buffer.from('Order,SKU\n1,SP-CEDAR-100\n'), Buffer.alloc(0), gzipSync('text')])
      expect(await saidOf(other)).toMatch(/^is no backup of Lotwright/);
    expect(await saidOf(compressed(Buffer.from('a text of some length')))).toMatch(/^is no backup of Lotwright/);
    expect(await saidOf(compressed(frame('H', { file: 'lotwright-backup', format: 2, more: [] })))).toMatch(
      /^was written by a newer Lotwright/,
    );
    await expect(checkBackup(join(folder, 'none'))).rejects.toThrow(/^Cannot read .*none/);
    await expect(checkBackup(folder)).rejects.toThrow(/^Cannot read /);
  });

  it('is not written over another, unless that is said, and has its name only when it is whole', async () => {
    const first = await write();
    await expect(BackupWriter.create(file, HEADER)).rejects.toThrow(/is there already/);
    const writer = await BackupWriter.create(file, HEADER, { overwrite: true });
    await writer.table({ table: 'item', columns: ['id'] }, of('1\n'));
    expect(readFileSync(file).equals(first)).toBe(true);
    await writer.close([]);
    expect((await checkBackup(file)).closing).toMatchObject({ tables: 1, rows: 1, photos: 0 });
    const given = await BackupWriter.create(join(folder, 'c'), HEADER);
    await given.discard();
    const nowhere = await BackupWriter.create(join(folder, 'no/such/folder'), HEADER);
    await expect(nowhere.close([])).rejects.toMatchObject({ code: 'ENOENT' });
    await nowhere.discard();
    expect(readdirSync(folder)).toEqual(['a.backup']);
  });
});
