import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { FastifyRequest } from 'fastify';
import { Problem } from './problem.js';

const LOOPBACK = /^(localhost|127(\.\d{1,3}){3}|\[::1\])(:\d+)?$/i;

/**
 * What a browser may do with our pages, and what other sites may do with a browser:
 * - headers that allow only what we serve ourselves, and no frame around it;
 * - a request that changes something must come from our own page or from no browser at all, judged by `Sec-Fetch-Site`,
 *   else by `Origin` against `Host`, so no form needs a token;
 * - served on the loopback address, only its own names are answered: a foreign name that a hostile site lets point at
 *   127.0.0.1 would make that site our own origin.
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
  if (!LOOPBACK.test(host)) return;
  const server = app.getHttpAdapter().getInstance();
  server.addHook('onRequest', async (request: FastifyRequest) => {
    if (LOOPBACK.test(request.headers.host ?? 'localhost')) return;
    throw new Problem({ status: 421, code: 'wrong-host', detail: 'This server answers only to localhost. Set HOST.' });
  });
}
