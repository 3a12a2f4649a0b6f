import { randomUUID } from 'node:crypto';
import { STATUS_CODES } from 'node:http';
import type { Socket } from 'node:net';
import { Logger } from '@nestjs/common';
import { FastifyAdapter } from '@nestjs/platform-fastify';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { closeInTime } from './closing.js';
import { serveDocs } from './docs.js';
import { honourKeys } from './idempotency.js';
import { bodyOf, PROBLEM_JSON, ProblemFilter } from './problem-filter.js';
import type { ProblemPage } from './problem-filter.js';
import { Problem } from './problem.js';
import { protect } from './security.js';
import { limited } from './upload.js';
import { ValidationPipe } from './validation.js';

const BODY_BYTES_MAX = 1024 * 1024;

/** Bodies that are handed to the route as a stream: tables and pictures can be far larger than a JSON body may be. */
const STREAMED_TYPES = [
  'text/csv',
  'application/octet-stream',
  'multipart/form-data',
  'image/jpeg',
  'image/png',
  'image/webp',
];

export function httpAdapter(): FastifyAdapter {
  return new FastifyAdapter({
    bodyLimit: BODY_BYTES_MAX,
    trustProxy: false,
    genReqId: () => randomUUID(),
    routerOptions: { maxParamLength: 200 },
    frameworkErrors: refuseUnreadable,
    clientErrorHandler: refuseUnparsable,
  });
}

/** For what is answered before any route: as strictly as can be. */
const STRICT_HEADERS = {
  'content-type': PROBLEM_JSON,
  'content-security-policy': "default-src 'none'; frame-ancestors 'none'",
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
};

/** An address that cannot be read reaches no route and no filter, so it is answered here. */
function refuseUnreadable(error: FastifyError, request: FastifyRequest, reply: FastifyReply): void {
  const problem = new Problem({ status: error.statusCode ?? 400, code: 'malformed-request', detail: error.message });
  void reply
    .status(problem.status)
    .headers(STRICT_HEADERS)
    .send(JSON.stringify(bodyOf(problem, request.url)));
}

const PARSER_STATUS: Record<string, number> = { HPE_HEADER_OVERFLOW: 431, ERR_HTTP_REQUEST_TIMEOUT: 408 };

/** What is not even HTTP has no request to answer, only a socket. */
function refuseUnparsable(error: Error & { code?: string }, socket: Socket): void {
  if (error.code === 'ECONNRESET' || !socket.writable) return void socket.destroy();
  const status = PARSER_STATUS[error.code ?? ''] ?? 400;
  const problem = new Problem({ status, code: 'malformed-request', detail: 'The request is not readable as HTTP.' });
  const body = JSON.stringify(bodyOf(problem, ''));
  const headers = { ...STRICT_HEADERS, 'content-length': Buffer.byteLength(body), connection: 'close' };
  const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}`);
  socket.end(`HTTP/1.1 ${status} ${STATUS_CODES[status]}\r\n${lines.join('\r\n')}\r\n\r\n${body}`);
}

/**
 * Everything that holds for every request: who may ask, what is read, how faults are answered, where it is described.
 * `problemPage` draws a problem for a person who looks at a page.
 */
export function configureHttp(app: NestFastifyApplication, host: string, problemPage?: ProblemPage): void {
  const server = app.getHttpAdapter().getInstance();
  protect(app, host);
  app.useGlobalPipes(new ValidationPipe());
  app.useGlobalFilters(new ProblemFilter(problemPage));
  server.removeContentTypeParser('text/plain');
  server.addContentTypeParser(STREAMED_TYPES, (request, body, done) => {
    try {
      done(null, limited(body, request.headers['content-length']));
    } catch (error) {
      done(error as Error);
    }
  });
  const logger = new Logger('http');
  server.addHook('onRequest', async (request: FastifyRequest, reply: FastifyReply) => {
    void reply.header('x-request-id', request.id);
  });
  server.addHook('onResponse', async (request: FastifyRequest, reply: FastifyReply) => {
    // what was refused unread is still on its way; left there, its connection would never end, nor would the server
    if (!request.raw.readableEnded) request.raw.resume();
    // whoever knows the address of a calendar can read it
    const path = request.url.split('?', 1)[0]!.replace(/^(\/calendar\/).*/, '$1...');
    logger.debug(`${request.method} ${path} ${reply.statusCode} ${reply.elapsedTime.toFixed(1)} ms ${request.id}`);
  });
  closeInTime(app);
  honourKeys(app);
  serveDocs(app);
}
