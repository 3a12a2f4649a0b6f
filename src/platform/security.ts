import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { Problem } from './problem.js';

const LOOPBACK = /^(localhost|127(\.\d{1,3}){3}|\[::1\])(:\d+)?$/i;

/**
 * What a browser may do with our pages, and what other sites may do with a browser:
 * - headers that allow only what we serve ourselves, and no frame around it;
 * - a request that changes something must come from our own page or from no browser at all, judged by `Sec-Fetch-Site`,
 *   else by `Origin` against `Host`, so no form needs a token;
 * - served on the loopback address, only its own names are answered: a foreign name that a hostile site lets point at
 *   127.0.0.1 would make that site our own origin;
 * - what is answered tells of customers and stock: no browser and nothing between keeps it, unless the route says so, as those
 *   of styles and photos do.
 */
export function protect(app: NestFastifyApplication, host: string): void {
  app.useSecurityHeaders({
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: "'self'",
        baseUri: "'none'",
        formAction: "'self'",
        frameAncestors: "'none'",
        objectSrc: "'none'",
        imgSrc: ["'self'", 'data:'],
      },
    },
    // served over plain HTTP in the workshop's own network; whoever puts TLS before it sets this there
    strictTransportSecurity: false,
    xFrameOptions: { action: 'deny' },
    referrerPolicy: { policy: 'no-referrer' },
  });
  app.enableCsrfProtection();
  const server = app.getHttpAdapter().getInstance();
  server.addHook('onSend', async (_request: FastifyRequest, reply: FastifyReply) => {
    if (!reply.hasHeader('cache-control')) void reply.header('cache-control', 'no-store');
  });
  if (!LOOPBACK.test(host)) return;
  server.addHook('onRequest', async (request: FastifyRequest) => {
    if (LOOPBACK.test(request.headers.host ?? 'localhost')) return;
    throw new Problem({ status: 421, code: 'wrong-host', detail: 'This server answers only to localhost. Set HOST.' });
  });
}
