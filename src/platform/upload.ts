import { createHash } from 'node:crypto';
import { Transform } from 'node:stream';
import type { Readable, TransformCallback } from 'node:stream';
import { Problem } from './problem.js';

/** A table of 50 000 order lines is about 5 MB. */
export const UPLOAD_BYTES_MAX = 32 * 1024 * 1024;

/** A body on its way to the route: counted, and hashed as it passes. */
export class Upload extends Transform {
  private readonly hash = createHash('sha256');
  private digest: string | undefined;
  private bytes = 0;

  constructor(private readonly bytesMax: number) {
    super();
    // a client may go away before anybody reads; whoever then reads is told
    this.on('error', () => {});
  }

  override _transform(chunk: Buffer, _encoding: BufferEncoding, done: TransformCallback): void {
    this.bytes += chunk.length;
    if (this.bytes > this.bytesMax) return done(tooLarge(this.bytesMax));
    this.hash.update(chunk);
    done(null, chunk);
  }

  /** Hex SHA-256 of the whole body. Only once all of it was read. */
  sha256(): string {
    if (!this.readableEnded) throw new Error('the body has not been read to its end');
    return (this.digest ??= this.hash.digest('hex'));
  }
}

/** The body as a stream that fails with a 413 problem past the limit, at once if its length says so. */
export function limited(body: Readable, contentLength: string | undefined, bytesMax = UPLOAD_BYTES_MAX): Upload {
  if (Number(contentLength ?? 0) > bytesMax) throw tooLarge(bytesMax);
  const upload = new Upload(bytesMax);
  body.once('error', (error) => upload.destroy(error));
  return body.pipe(upload);
}

function tooLarge(bytesMax: number): Problem {
  return new Problem({ status: 413, code: 'too-large', detail: `The body may hold at most ${bytesMax} bytes.` });
}
