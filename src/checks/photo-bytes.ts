/** Kinds of pictures that are kept; which one it is, its content decides. */
export type PhotoType = 'image/jpeg' | 'image/png' | 'image/webp';

const PNG_SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);

/** What the bytes begin as, or undefined for anything else. */
export function photoTypeOf(bytes: Buffer): PhotoType | undefined {
  if (bytes[0] === 0xff && bytes[1] === 0xd8 && bytes[2] === 0xff) return 'image/jpeg';
  if (bytes.subarray(0, 8).equals(PNG_SIGNATURE)) return 'image/png';
  if (bytes.toString('latin1', 0, 4) === 'RIFF' && bytes.toString('latin1', 8, 12) === 'WEBP') return 'image/webp';
  return undefined;
}

/** Bytes that are no whole picture of the type they begin as. */
export class BrokenPhoto extends Error {}

/**
 * The same picture without what a camera or a program wrote beside it: place, time, device, comments, previews, and
 * whatever follows its end. Of a JPEG the way it is turned stays, since without it a phone's picture lies on its side;
 * colour profiles stay. Nothing is decoded or compressed again. Throws BrokenPhoto.
 */
export function withoutMetadata(bytes: Buffer, type: PhotoType): Buffer {
  if (type === 'image/jpeg') return plainJpeg(bytes);
  return type === 'image/png' ? plainPng(bytes) : plainWebp(bytes);
}

const SOI = Buffer.from([0xff, 0xd8]);
const EOI = 0xd9;
const SOS = 0xda;

/** ITU-T T.81, annex B: markers, each but a few with a length, and after a scan's header its data until the next marker. */
function plainJpeg(bytes: Buffer): Buffer {
  const kept: Buffer[] = [SOI];
  let hasScan = false;
  for (let at = 2; ;) {
    if (at + 1 >= bytes.length || bytes[at] !== 0xff) throw new BrokenPhoto('a marker is missing');
    const marker = bytes[at + 1]!;
    if (marker === 0xff) at++;
    else if (marker === EOI) {
      if (!hasScan) throw new BrokenPhoto('there is no picture in it');
      return Buffer.concat([...kept, bytes.subarray(at, at + 2)]);
    } else {
      const end = at + 2 + (at + 4 <= bytes.length ? bytes.readUInt16BE(at + 2) : 0);
      if (end <= at + 3 || end > bytes.length) throw new BrokenPhoto('it is cut off');
      const segment = bytes.subarray(at, end);
      const turned = marker === 0xe1 ? turnedOf(segment) : undefined;
      if (turned !== undefined) kept.push(turnedSegment(turned));
      else if (isJpegKept(marker, segment)) kept.push(segment);
      at = end;
      if (marker === SOS) {
        hasScan = true;
        at = scanEnd(bytes, at);
        kept.push(bytes.subarray(end, at));
      }
    }
  }
}

/** Of the application's segments JFIF (0), the colour profile (2) and the colour transform (14) say how to show it. */
function isJpegKept(marker: number, segment: Buffer): boolean {
  if (marker === 0xe2) return segment.toString('latin1', 4, 15) === 'ICC_PROFILE';
  if (marker === 0xe0) return segment.toString('latin1', 4, 8) === 'JFIF';
  if (marker === 0xee) return segment.toString('latin1', 4, 9) === 'Adobe';
  return !(marker >= 0xe0 && marker <= 0xef) && marker !== 0xfe;
}

/** Where the data of a scan ends: at a marker that is neither a stuffed byte nor a restart. */
function scanEnd(bytes: Buffer, from: number): number {
  for (let at = from; at + 1 < bytes.length; at++) {
    const next = bytes[at + 1]!;
    if (bytes[at] === 0xff && next !== 0 && !(next >= 0xd0 && next <= 0xd7)) return at;
  }
  throw new BrokenPhoto('it is cut off');
}

const EXIF = 'Exif\0\0';
const ORIENTATION = 0x0112;

/** How the picture is turned (2 to 8; 1 is not), as an Exif segment says it. */
function turnedOf(segment: Buffer): number | undefined {
  if (segment.toString('latin1', 4, 10) !== EXIF) return undefined;
  const tiff = segment.subarray(10);
  const isLittle = tiff.toString('latin1', 0, 2) === 'II';
  const u16 = (at: number) => (at + 2 > tiff.length ? 0 : isLittle ? tiff.readUInt16LE(at) : tiff.readUInt16BE(at));
  const u32 = (at: number) => (at + 4 > tiff.length ? 0 : isLittle ? tiff.readUInt32LE(at) : tiff.readUInt32BE(at));
  const directory = u32(4);
  for (let n = 0; n < Math.min(u16(directory), 200); n++) {
    const entry = directory + 2 + n * 12;
    if (u16(entry) === ORIENTATION && u16(entry + 8) > 1 && u16(entry + 8) <= 8) return u16(entry + 8);
  }
  return undefined;
}

/** An Exif segment that says nothing but that: one directory of one entry. */
function turnedSegment(turned: number): Buffer {
  const tiff = Buffer.alloc(26);
  tiff.write('MM\0*', 0, 'latin1');
  tiff.writeUInt32BE(8, 4);
  tiff.writeUInt16BE(1, 8);
  tiff.writeUInt16BE(ORIENTATION, 10);
  tiff.writeUInt16BE(3, 12);
  tiff.writeUInt32BE(1, 14);
  tiff.writeUInt16BE(turned, 18);
  const head = Buffer.from([0xff, 0xe1, 0, 2 + EXIF.length + tiff.length]);
  return Buffer.concat([head, Buffer.from(EXIF, 'latin1'), tiff]);
}

/** PNG, second edition, clause 11: the chunks a picture needs, and those that say how it is to be shown. */
const PNG_KEPT = new Set('IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP bKGD pHYs acTL fcTL fdAT'.split(' '));

function plainPng(bytes: Buffer): Buffer {
  const kept: Buffer[] = [PNG_SIGNATURE];
  let hasData = false;
  for (let at = 8; at + 12 <= bytes.length;) {
    const end = at + 12 + bytes.readUInt32BE(at);
    if (end > bytes.length) break;
    const name = bytes.toString('latin1', at + 4, at + 8);
    if (PNG_KEPT.has(name)) kept.push(bytes.subarray(at, end));
    hasData ||= name === 'IDAT';
    if (name === 'IEND' && hasData) return Buffer.concat(kept);
    at = end;
  }
  throw new BrokenPhoto('it is cut off');
}

const WEBP_KEPT = new Set(['VP8 ', 'VP8L', 'VP8X', 'ALPH', 'ANIM', 'ANMF', 'ICCP']);
/** In VP8X, the flags that promise an Exif and an XMP chunk. */
const WEBP_META_FLAGS = 0b0000_1100;

/** RFC 9649: a RIFF file of chunks, each padded to an even length. */
function plainWebp(bytes: Buffer): Buffer {
  const end = 8 + bytes.readUInt32LE(4);
  if (end > bytes.length) throw new BrokenPhoto('it is cut off');
  const kept: Buffer[] = [];
  let hasData = false;
  for (let at = 12; at + 8 <= end;) {
    const name = bytes.toString('latin1', at, at + 4);
    const size = bytes.readUInt32LE(at + 4);
    const next = at + 8 + size + (size % 2);
    if (next > end) throw new BrokenPhoto('it is cut off');
    if (WEBP_KEPT.has(name)) {
      const chunk = Buffer.from(bytes.subarray(at, next));
      if (name === 'VP8X') chunk[8] = chunk[8]! & ~WEBP_META_FLAGS;
      kept.push(chunk);
    }
    hasData ||= name === 'VP8 ' || name === 'VP8L' || name === 'ANMF';
    at = next;
  }
  if (!hasData) throw new BrokenPhoto('there is no picture in it');
  const content = Buffer.concat(kept);
  const head = Buffer.from('RIFF\0\0\0\0WEBP', 'latin1');
  head.writeUInt32LE(content.length + 4, 4);
  return Buffer.concat([head, content]);
}
