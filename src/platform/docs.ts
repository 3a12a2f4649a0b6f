import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { OpenAPIObject } from '@nestjs/swagger';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { DOCS_STYLE, docsPage } from './docs-page.js';
import { openApiDocument } from './openapi.js';

/** Serves the description of the API as data and as a page. It is made when first asked for: by then all routes are known. */
export function serveDocs(app: NestFastifyApplication): void {
  const server = app.getHttpAdapter();
  let made: { document: OpenAPIObject; page: string } | undefined;
  const docs = () => {
    if (!made) {
      const document = openApiDocument(app);
      made = { document, page: docsPage(document) };
    }
    return made;
  };
  const send = (path: string, type: string, body: () => string) =>
    server.get(path, (_: FastifyRequest, reply: FastifyReply) => void reply.type(type).send(body()));
  send('/api/openapi.json', 'application/json; charset=utf-8', () => JSON.stringify(docs().document, null, 2));
  send('/api/docs', 'text/html; charset=utf-8', () => docs().page);
  send('/api/docs.css', 'text/css; charset=utf-8', () => DOCS_STYLE);
}
