import { Transform } from 'node:stream';
import type { Readable } from 'node:stream';
import { Problem } from './problem.js';

/** A table of 50 000 order lines is about 5 MB. */
export const UPLOAD_BYTES_MAX = 32 * 1024 * 1024;

/** The body as a stream that fails with a 413 problem past the limit, at once if its length says so. */
export function limited(body: Readable, contentLength: string | undefined, bytesMax = UPLOAD_BYTES_MAX): Readable {
  const refused = () => {
    const detail = `The body may hold at most ${bytesMax} bytes.`;
    return new Problem({ status: 413, code: 'too-large', detail });
  };
  if (Number(contentLength ?? 0) > bytesMax) throw refused();
  let bytes = 0;
  const counted = new Transform({
    transform(chunk: Buffer, _encoding, done) {
      bytes += chunk.length;
      if (bytes > bytesMax) done(refused());
      else done(null, chunk);
    },
  });
  body.once('error', (error) => counted.destroy(error));
  return body.pipe(counted);
}
