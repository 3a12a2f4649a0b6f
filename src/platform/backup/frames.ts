import { z } from 'zod';

/**
 * A backup is one gzip stream of frames: a letter, the length of what follows as four bytes (most significant first), and
 * that many bytes. First comes `H` with what the file is, then a part after the other, each `T` (a table) or `P` (a photo)
 * with its name, any number of `D` with its bytes, and `E` with their count and SHA-256; at last `Z`, with how many parts
 * there are and the SHA-256 of every byte before it. All but `D` hold JSON. The bytes of a table are what PostgreSQL writes as
 * `COPY ... TO STDOUT`: text, UTF-8, a line a row.
 */

/** Of how a file is written. A later one that an earlier program would misread gets the next number. */
export const FORMAT = 1;

/** What no frame is longer than: a longer one is a sign of damage, and is not waited for. */
export const FRAME_BYTES_MAX = 16 * 1024 * 1024;
/** Bytes of a part go in pieces of no more than this. */
export const DATA_BYTES_MAX = 256 * 1024;

/** How the gzip stream begins: no name, no time, and the same on every system, so that any other byte is damage. */
export const GZIP_START = Buffer.from([0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255]);

export const FRAME = { header: 'H', table: 'T', photo: 'P', data: 'D', end: 'E', closing: 'Z' } as const;
export type FrameLetter = (typeof FRAME)[keyof typeof FRAME];

const hex256 = z.string().regex(/^[0-9a-f]{64}$/);
const name = z.string().min(1).max(63);
const count = z.int().min(0);

/** What every format begins with, so that one too new can be told from one that is broken. */
export const anyHeader = z.object({ file: z.literal('lotwright-backup'), format: z.int().min(1) });

export const headerSchema = z.strictObject({
  file: z.literal('lotwright-backup'),
  format: z.literal(FORMAT),
  /** The version of Lotwright that wrote it. */
  program: z.string().regex(/^\d+\.\d+\.\d+$/),
  /** The major version of the PostgreSQL it was read from. */
  postgres: z.int(),
  /** The changes of the schema that had been made, in the order they were. */
  migrations: z.array(z.string()).min(1),
  madeAt: z.iso.datetime(),
  /** Whether photos are inside, or stayed where they are kept. */
  photos: z.enum(['inside', 'beside']),
  /** How far each sequence of a column had come. */
  sequences: z.array(z.strictObject({ table: name, column: name, last: z.string().regex(/^\d+$/) })),
});
export type BackupHeader = z.infer<typeof headerSchema>;

export const tableSchema = z.strictObject({ table: name, columns: z.array(name).min(1) });
export type BackupTable = z.infer<typeof tableSchema>;

const PHOTO_TYPES = ['image/jpeg', 'image/png', 'image/webp'] as const;
export const photoSchema = z.strictObject({ sha256: hex256, type: z.enum(PHOTO_TYPES) });
export type BackupPhoto = z.infer<typeof photoSchema>;

/** `lines` counts line ends, which is the rows of a table and nothing of a photo. */
export const endSchema = z.strictObject({ bytes: count, lines: count, sha256: hex256 });
export type PartEnd = z.infer<typeof endSchema>;

export const closingSchema = z.strictObject({
  tables: count,
  rows: count,
  photos: count,
  /** Photos that are named in the tables and were not where they are kept. */
  missing: z.array(hex256),
  sha256: hex256,
});
export type BackupClosing = z.infer<typeof closingSchema>;
