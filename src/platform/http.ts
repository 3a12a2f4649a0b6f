import { randomUUID } from 'node:crypto';
import { Logger } from '@nestjs/common';
import { FastifyAdapter } from '@nestjs/platform-fastify';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { serveDocs } from './docs.js';
import { bodyOf, PROBLEM_JSON, ProblemFilter } from './problem-filter.js';
import { Problem } from './problem.js';
import { protect } from './security.js';
import { limited } from './upload.js';
import { ValidationPipe } from './validation.js';

const BODY_BYTES_MAX = 1024 * 1024;

/** Bodies that are handed to the route as a stream: tables of orders can be far larger than a JSON body may be. */
const STREAMED_TYPES = ['text/csv', 'application/octet-stream'];

export function httpAdapter(): FastifyAdapter {
  return new FastifyAdapter({
    bodyLimit: BODY_BYTES_MAX,
    trustProxy: false,
    genReqId: () => randomUUID(),
    routerOptions: { maxParamLength: 200 },
    frameworkErrors: refuseUnreadable,
  });
}

/** An address that cannot be read reaches no route and no filter, so it is answered here, as strictly as can be. */
function refuseUnreadable(error: FastifyError, request: FastifyRequest, reply: FastifyReply): void {
  const problem = new Problem({ status: error.statusCode ?? 400, code: 'malformed-request', detail: error.message });
  void reply
    .status(problem.status)
    .headers({
      'content-type': PROBLEM_JSON,
      'content-security-policy': "default-src 'none'; frame-ancestors 'none'",
      'x-content-type-options': 'nosniff',
      'referrer-policy': 'no-referrer',
    })
    .send(JSON.stringify(bodyOf(problem, request.url)));
}

/** Everything that holds for every request: who may ask, what is read, how faults are answered, where it is described. */
export function configureHttp(app: NestFastifyApplication, host: string): void {
  const server = app.getHttpAdapter().getInstance();
  protect(app, host);
  app.useGlobalPipes(new ValidationPipe());
  app.useGlobalFilters(new ProblemFilter());
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
    const path = request.url.split('?', 1)[0];
    logger.debug(`${request.method} ${path} ${reply.statusCode} ${reply.elapsedTime.toFixed(1)} ms ${request.id}`);
  });
  serveDocs(app);
}
