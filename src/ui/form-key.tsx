import { createHash, randomUUID } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import type { CallHandler, ExecutionContext, NestInterceptor } from '@nestjs/common';
import type { FastifyRequest } from 'fastify';
import { finalize, Observable } from 'rxjs';
import { type KeyedRequest, keyedRequests } from '../platform/idempotency.js';
import { personIn } from '../platform/person.js';
import { isForPrograms } from '../platform/problem-filter.js';

const FIELD = 'once';
const KEY_LENGTH_MAX = 80;

/**
 * Stands in every form that changes something: tapped twice, or sent again after a dead spot, the form is done once and
 * its first outcome is shown again.
 */
export function FormKey(): JSX.Element {
  return <input type="hidden" name={FIELD} value={randomUUID()} autocomplete="off" />;
}

/** Does what such a form asks as a request with a key: what its act answered is kept in the act's own transaction. */
@Injectable()
export class FormOnce implements NestInterceptor {
  /** A second tap waits until the first is through, and then gets its answer. */
  private readonly running = new Map<string, Promise<void>>();

  async intercept(context: ExecutionContext, next: CallHandler): Promise<Observable<unknown>> {
    const request = context.switchToHttp().getRequest<FastifyRequest>();
    const keyed = isForPrograms(request.url) ? undefined : takeKey(request);
    if (!keyed) return next.handle();
    const id = `${keyed.who} ${keyed.route} ${keyed.key}`;
    while (this.running.has(id)) await this.running.get(id);
    let end = (): void => {};
    this.running.set(id, new Promise((resolve) => (end = resolve)));
    const through = (): void => {
      this.running.delete(id);
      end();
    };
    return new Observable((subscriber) =>
      keyedRequests.run(keyed, () => next.handle().pipe(finalize(through)).subscribe(subscriber)),
    );
  }
}

/**
 * Takes the key out of a form, which then is as if there were none. Gone back to and filled in otherwise, a form is another
 * request though its field is the same: so what was written is a part of the key.
 */
function takeKey(request: FastifyRequest): KeyedRequest | undefined {
  const { method, url, body } = request;
  if (method !== 'POST' || typeof body !== 'object' || body === null || !(FIELD in body)) return undefined;
  const { [FIELD]: once, ...rest } = body as Record<string, unknown>;
  delete (body as Record<string, unknown>)[FIELD];
  if (typeof once !== 'string' || once === '' || once.length > KEY_LENGTH_MAX) return undefined;
  const hash = createHash('sha256').update(JSON.stringify(rest)).digest('hex');
  return {
    who: personIn(request),
    route: `${method} ${url.split('?', 1)[0]}`,
    key: `${once} ${hash}`,
    hash: () => hash,
    status: () => 200,
    onHit: () => {},
    hasActed: false,
  };
}
