import { readFileSync } from 'node:fs';
import { Module } from '@nestjs/common';
import { HttpAdapterHost } from '@nestjs/core';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { Ajv2020 } from 'ajv/dist/2020.js';
import type { ValidateFunction } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import type { FastifyReply, FastifyRequest } from 'fastify';

interface Described {
  $ref?: string;
  content?: Record<string, { schema?: unknown }>;
}

interface Document {
  paths: Record<string, Record<string, { responses: Record<string, Described> }>>;
  components: { responses: Record<string, Described> };
}

const DOCUMENT = JSON.parse(readFileSync('src/openapi.json', 'utf8')) as Document;

/** The description and its page are no routes that describe themselves. */
const UNDESCRIBED = new Set(['/api/openapi.json', '/api/docs', '/api/docs.css']);

const PROBLEM = { $ref: '#/components/schemas/Problem' };

const ERRORS_SHOWN = 5;

// another test lints the document; what is compiled here is asked too seldom to be worth making fast
const ajv = new Ajv2020({
  allErrors: true,
  strictTypes: false,
  validateSchema: false,
  inlineRefs: false,
  code: { optimize: false },
});
addFormats.default(ajv);
// the whole document is where the names in its schemas lead, so its own words are let pass
ajv.addVocabulary(Object.keys(DOCUMENT));
ajv.addSchema(DOCUMENT, 'api', false, false);
const validators = new Map<object, ValidateFunction>();

export interface AnswerSent {
  method: string;
  /** As the route is written: `/api/lots/:code`. Undefined where no route was reached. */
  route: string | undefined;
  status: number;
  contentType: string | undefined;
  /** Undefined where the body is streamed or no text. */
  text: string | undefined;
}

/**
 * What of an answer is not as `src/openapi.json` says: its status, its kind, its body. Pages are not described, but a
 * problem is the same everywhere.
 */
export function faultsOfAnswer({ method, route, status, contentType, text }: AnswerSent): string[] {
  const kind = contentType?.split(';', 1)[0];
  const path = route?.replaceAll(/:(\w+)/g, '{$1}');
  const described = path === undefined ? undefined : DOCUMENT.paths[path]?.[method.toLowerCase()];
  const where = `${method} ${path ?? 'no route'} answered ${status}`;
  if (!described) {
    if (kind === 'application/problem+json') return faultsOfBody(PROBLEM, text, where);
    return path && /^\/(api|health)\//.test(path) && !UNDESCRIBED.has(path) ? [`${where}: it is not described`] : [];
  }
  const name = [String(status), `${Math.floor(status / 100)}XX`, 'default'].find((each) => each in described.responses);
  if (name === undefined || (status < 400 && name === 'default')) return [`${where}: the status is not described`];
  const { content = {} } = resolved(described.responses[name]!);
  const kinds = Object.keys(content);
  if (kinds.length === 0) return text ? [`${where}: nothing was to come, but ${text.slice(0, 100)}`] : [];
  if (kind === undefined || !kinds.includes(kind)) return [`${where} as ${kind}, not as ${kinds.join(' or ')}`];
  return kind.endsWith('json') ? faultsOfBody(content[kind]!.schema as object, text, where) : [];
}

function faultsOfBody(schema: object, text: string | undefined, where: string): string[] {
  let validate = validators.get(schema);
  if (!validate) {
    const own = JSON.stringify(schema).replaceAll('"#/', '"api#/');
    validators.set(schema, (validate = ajv.compile(JSON.parse(own) as object)));
  }
  if (text === undefined) return [`${where}: its JSON was not seen`];
  if (validate(JSON.parse(text))) return [];
  return validate
    .errors!.slice(0, ERRORS_SHOWN)
    .map(({ instancePath, message, params }) => `${where}: ${instancePath} ${message} ${JSON.stringify(params)}`);
}

const resolved = (response: Described): Described =>
  response.$ref ? resolved(DOCUMENT.components.responses[response.$ref.split('/').at(-1)!]!) : response;

/** A module that looks at every answer its application sends, however it was asked, and tells `onFault`. */
export function answerWatch(onFault: (fault: string) => void): new () => unknown {
  class AnswerWatch {
    constructor(host: HttpAdapterHost) {
      const server = (host.httpAdapter as ReturnType<NestFastifyApplication['getHttpAdapter']>).getInstance();
      server.addHook('onSend', async (request: FastifyRequest, reply: FastifyReply, payload: unknown) => {
        if (request.method === 'HEAD') return;
        const text = typeof payload === 'string' ? payload : Buffer.isBuffer(payload) ? String(payload) : undefined;
        const answer = {
          method: request.method,
          route: request.routeOptions.url,
          status: reply.statusCode,
          contentType: reply.getHeader('content-type') as string | undefined,
          text,
        };
        try {
          faultsOfAnswer(answer).forEach(onFault);
        } catch (error) {
          onFault(`${answer.method} ${answer.route} answered ${answer.status}: ${String(error)}`);
        }
      });
    }
  }
  Reflect.defineMetadata('design:paramtypes', [HttpAdapterHost], AnswerWatch);
  Module({})(AnswerWatch);
  return AnswerWatch as unknown as new () => unknown;
}
