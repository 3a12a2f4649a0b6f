import { AsyncLocalStorage } from 'node:async_hooks';
import { createHash } from 'node:crypto';
import { finished } from 'node:stream/promises';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { FastifyReply, FastifyRequest, HookHandlerDoneFunction } from 'fastify';
import { DataSource } from 'typeorm';
import type { EntityManager } from 'typeorm';
import { personIn } from './person.js';
import { conflict, Problem } from './problem.js';
import { Upload } from './upload.js';

export const KEY_HEADER = 'Idempotency-Key';
export const KEY_LENGTH_MAX = 255;
/** Says that an answer is the one given before. */
export const HIT_HEADER = 'Idempotency-Hit';
/** How long at least an answer is kept; the trigger `prune` on the table takes away what is older. */
export const KEPT_HOURS = 48;

const JSON_TYPE = 'application/json; charset=utf-8';
const CHANGING = new Set(['POST', 'PUT', 'PATCH', 'DELETE']);

/** A request that may be sent again: by whom, what for, and under which key. */
export interface KeyedRequest {
  who: string;
  /** Method and path as they were asked for, without the query. */
  route: string;
  key: string;
  /** Hex SHA-256 of query and body; of a streamed body once it was read. */
  hash(): string;
  /** The status its success is answered with, once the route is known. */
  status(): number;
  /** Called when its answer was kept before. */
  onHit(): void;
  /** Set by the one act it may do. */
  hasActed: boolean;
}

/** The keyed request that is being answered, for whatever is called on its behalf. */
export const keyedRequests = new AsyncLocalStorage<KeyedRequest>();

interface KeptAnswer {
  request_hash: string;
  status: number;
  body: string | null;
  content_type: string | null;
  /** Since when the answer is gone, because it told of somebody who was erased. */
  forgotten_at: Date | null;
}

/**
 * Does `work` as the one act of a keyed request, or answers what it answered when it was done before. What is kept is
 * written in the transaction of the act, so there is an answer exactly where there was an effect. What `work` answers
 * must be plain data: it is the body of the response. Throws 409 `still-running` while a twin is at work and 422
 * `key-reused` where the key was used for something else.
 */
export async function once<T>(
  tx: EntityManager,
  request: KeyedRequest,
  work: (tx: EntityManager) => Promise<T>,
): Promise<T> {
  const { who, route, key } = request;
  const [kept] = await tx.query<KeptAnswer[]>(
    'select request_hash, status, body, content_type, forgotten_at from claim_key($1, $2, $3)',
    [who, route, key],
  );
  if (kept) {
    refuseOtherRequest(kept, request);
    refuseForgotten(kept);
    request.onHit();
    return (kept.body === null ? undefined : JSON.parse(kept.body)) as T;
  }
  const answer = await work(tx);
  const body = answer === undefined ? null : JSON.stringify(answer);
  await tx.query(KEEP, [who, route, key, request.hash(), request.status(), body, body === null ? null : JSON_TYPE]);
  return answer;
}

const KEEP = `insert into idempotency (who, route, key, request_hash, status, body, content_type)
  values ($1, $2, $3, $4, $5, $6, $7)`;

/**
 * Lets every request under /api that changes something carry a key. One whose answer is kept is answered before anything
 * else looks at it, since what was right then may be wrong by now: its day may be over, its draft may be gone.
 */
export function honourKeys(app: NestFastifyApplication): void {
  const dataSource = app.get(DataSource);
  const server = app.getHttpAdapter().getInstance();
  server.addHook('preHandler', (request: FastifyRequest, reply: FastifyReply, done: HookHandlerDoneFunction) => {
    const header = request.headers[KEY_HEADER.toLowerCase()];
    if (header === undefined || !CHANGING.has(request.method) || !request.url.startsWith('/api/')) return done();
    answerAgain(dataSource, request, reply, String(header)).then(
      (keyed) => keyed && keyedRequests.run(keyed, done),
      (error: Error) => done(error),
    );
  });
}

/** Answers what is kept for this key; where nothing is, the request as it goes on. */
async function answerAgain(
  dataSource: DataSource,
  request: FastifyRequest,
  reply: FastifyReply,
  header: string,
): Promise<KeyedRequest | undefined> {
  const keyed = keyedRequestOf(request, reply, keyOf(header));
  const [kept] = await dataSource.query<KeptAnswer[]>(
    `select request_hash, status, body, content_type, forgotten_at from idempotency
     where who = $1 and route = $2 and key = $3`,
    [keyed.who, keyed.route, keyed.key],
  );
  if (!kept) return keyed;
  if (request.body instanceof Upload) await finished(request.body.resume());
  refuseOtherRequest(kept, keyed);
  refuseForgotten(kept);
  keyed.onHit();
  void reply.status(kept.status);
  if (kept.content_type !== null) void reply.header('content-type', kept.content_type);
  void reply.send(kept.body ?? undefined);
  return undefined;
}

function keyedRequestOf(request: FastifyRequest, reply: FastifyReply, key: string): KeyedRequest {
  const [path, query = ''] = request.url.split(/\?(.*)/s, 2);
  let hash: string | undefined;
  return {
    who: personIn(request),
    route: `${request.method} ${path}`,
    key,
    hash: () => (hash ??= hashOf(query, request.body)),
    status: () => reply.statusCode,
    onHit: () => void reply.header(HIT_HEADER, 'true'),
    hasActed: false,
  };
}

function hashOf(query: string, body: unknown): string {
  const content = body instanceof Upload ? body.sha256() : (JSON.stringify(body) ?? '');
  return createHash('sha256').update(`${query}\n${content}`).digest('hex');
}

/**
 * The key in the header: a string as RFC 8941, section 3.3.3, writes it, in double quotes; or its characters as they are,
 * without spaces and quotes. At most 255 printable ASCII characters. Throws a 400 problem.
 */
function keyOf(header: string): string {
  const text = header.trim();
  const quoted = /^"((?:[\x20-\x21\x23-\x5b\x5d-\x7e]|\\["\\])*)"$/.exec(text)?.[1];
  const key = quoted?.replace(/\\(.)/g, '$1') ?? (/^[\x21\x23-\x7e]+$/.test(text) ? text : '');
  if (key !== '' && key.length <= KEY_LENGTH_MAX) return key;
  const detail = `${KEY_HEADER} must be 1 to ${KEY_LENGTH_MAX} printable ASCII characters, in double quotes if it holds spaces.`;
  throw new Problem({ status: 400, code: 'bad-key', detail });
}

function refuseOtherRequest(kept: KeptAnswer, request: KeyedRequest): void {
  if (kept.request_hash === request.hash()) return;
  const detail = 'This key was used before for another request to the same address. Take a new key for a new request.';
  throw new Problem({ status: 422, code: 'key-reused', detail });
}

/** Done is done: without its answer it is still not done a second time. */
function refuseForgotten(kept: KeptAnswer): void {
  if (kept.forgotten_at === null) return;
  const detail =
    'This was done before. What was answered is no longer kept, since it told of a customer who was erased.';
  throw conflict('answer-erased', detail);
}
