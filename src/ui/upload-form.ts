import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Busboy } from '@fastify/busboy';
import type { FastifyRequest } from 'fastify';
import { Problem } from '../platform/problem.js';
import { UPLOAD_BYTES_MAX } from '../platform/upload.js';
import type { Sent } from './form.js';

/** A form that may carry a file, in the encoding of RFC 7578. */
export interface UploadForm {
  sent: Sent;
  /** Null where none was chosen. */
  file: { name: string; content: Buffer } | null;
}

const FIELDS_MAX = 50;

/** Reads such a form. Throws a problem: 415 for another kind of body, 413 for one too large, 400 for one that is cut off. */
export async function readUploadForm(request: FastifyRequest): Promise<UploadForm> {
  const type = request.headers['content-type'];
  if (!(request.body instanceof Readable) || !type?.startsWith('multipart/form-data'))
    throw new Problem({ status: 415, code: 'unsupported-media-type', detail: 'Send the form as its page sends it.' });
  const form: UploadForm = { sent: {}, file: null };
  const chunks: Buffer[] = [];
  try {
    const limits = { fields: FIELDS_MAX, files: 1, fieldSize: UPLOAD_BYTES_MAX };
    const parts = new Busboy({ headers: { ...request.headers, 'content-type': type }, limits });
    parts.on('field', (name, text) => void (form.sent[name] = text));
    parts.on('file', (_, stream, name) => {
      form.file = { name, content: Buffer.alloc(0) };
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      // a part that breaks off says so on its own stream, where nobody else would listen
      stream.on('error', (error) => parts.destroy(error));
    });
    await pipeline(request.body, parts);
  } catch (error) {
    if (error instanceof Problem) throw error;
    throw new Problem({
      status: 400,
      code: 'malformed-request',
      detail: 'The form did not arrive whole. Send it again.',
    });
  }
  if (form.file) form.file.content = Buffer.concat(chunks);
  // a browser sends an empty file without a name where none was chosen
  if (form.file && form.file.content.length === 0 && !form.file.name) form.file = null;
  return form;
}
