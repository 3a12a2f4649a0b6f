import { deflateSync } from 'node:zlib';

/** Pictures made byte by byte, as cameras and programs write them: with more in them than the picture. */

const crcTable = Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c >>> 0;
});

function crc32(bytes: Buffer): number {
  let c = 0xffffffff;
  for (const byte of bytes) c = crcTable[(c ^ byte) & 0xff]! ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}

export function pngChunk(name: string, content: Buffer): Buffer {
  const chunk = Buffer.alloc(12 + content.length);
  chunk.writeUInt32BE(content.length, 0);
  chunk.write(name, 4, 'latin1');
  content.copy(chunk, 8);
  chunk.writeUInt32BE(crc32(chunk.subarray(4, 8 + content.length)), 8 + content.length);
  return chunk;
}

/** One grey pixel, with these chunks before its data. */
export function png(...extra: Buffer[]): Buffer {
  const header = Buffer.from([0, 0, 0, 1, 0, 0, 0, 1, 8, 0, 0, 0, 0]);
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    pngChunk('IHDR', header),
    ...extra,
    pngChunk('IDAT', deflateSync(Buffer.from([0, 127]))),
    pngChunk('IEND', Buffer.alloc(0)),
  ]);
}

export function jpegSegment(marker: number, content: Buffer): Buffer {
  const head = Buffer.from([0xff, marker, 0, 0]);
  head.writeUInt16BE(content.length + 2, 2);
  return Buffer.concat([head, content]);
}

/** A grey baseline JPEG of 8 by 8 pixels (a real one: a browser shows it), with these segments after its beginning. */
export function jpeg(...extra: Buffer[]): Buffer {
  const table = jpegSegment(0xdb, Buffer.concat([Buffer.from([0]), Buffer.alloc(64, 1)]));
  const frame = jpegSegment(0xc0, Buffer.from([8, 0, 8, 0, 8, 1, 1, 0x11, 0]));
  // one code of one bit for each table: difference of zero bits, and end of block
  const codes = (which: number) => jpegSegment(0xc4, Buffer.from([which, 1, ...Array<number>(15).fill(0), 0]));
  const scan = jpegSegment(0xda, Buffer.from([1, 1, 0, 0, 63, 0]));
  return Buffer.concat([
    Buffer.from([0xff, 0xd8]),
    ...extra,
    table,
    frame,
    codes(0x00),
    codes(0x10),
    scan,
    Buffer.from([0b00111111]),
    Buffer.from([0xff, 0xd9]),
  ]);
}

/** An Exif segment that says how the picture is turned, and where it was taken. */
export function exif(turned: number, isLittle: boolean, secret: string): Buffer {
  const tiff = Buffer.alloc(8 + 2 + 2 * 12 + 4);
  const u16 = (value: number, at: number) => (isLittle ? tiff.writeUInt16LE(value, at) : tiff.writeUInt16BE(value, at));
  const u32 = (value: number, at: number) => (isLittle ? tiff.writeUInt32LE(value, at) : tiff.writeUInt32BE(value, at));
  tiff.write(isLittle ? 'II' : 'MM', 0, 'latin1');
  u16(42, 2);
  u32(8, 4);
  u16(2, 8);
  const entry = (at: number, tag: number, type: number, count: number) => {
    u16(tag, at);
    u16(type, at + 2);
    u32(count, at + 4);
  };
  entry(10, 0x010e, 2, secret.length);
  u32(tiff.length, 18);
  entry(22, 0x0112, 3, 1);
  u16(turned, 30);
  return jpegSegment(0xe1, Buffer.concat([Buffer.from('Exif\0\0', 'latin1'), tiff, Buffer.from(secret, 'latin1')]));
}

export function webpChunk(name: string, content: Buffer): Buffer {
  const head = Buffer.alloc(8);
  head.write(name, 0, 'latin1');
  head.writeUInt32LE(content.length, 4);
  return Buffer.concat([head, content, Buffer.alloc(content.length % 2)]);
}

/** The smallest lossless WebP, one pixel, in the extended form with these chunks after it. */
export function webp(...extra: Buffer[]): Buffer {
  const pixel = Buffer.from('2f00000000078850b40a', 'hex');
  const flags = Buffer.from([0b0000_1100, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
  const content = Buffer.concat([webpChunk('VP8X', flags), webpChunk('VP8L', pixel), ...extra]);
  const head = Buffer.from('RIFF\0\0\0\0WEBP', 'latin1');
  head.writeUInt32LE(content.length + 4, 4);
  return Buffer.concat([head, content]);
}
