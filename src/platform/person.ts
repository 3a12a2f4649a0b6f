import { createParamDecorator } from '@nestjs/common';
import type { ExecutionContext } from '@nestjs/common';
import type { FastifyRequest } from 'fastify';
import { Problem } from './problem.js';

export const PERSON_HEADER = 'Lotwright-Person';
export const PERSON_LENGTH_MAX = 80;
const PERSON_DEFAULT = 'workshop';

/**
 * The name of who acts, from the header `Lotwright-Person`: up to 80 printable characters, percent-encoded where they
 * are not ASCII; `workshop` when the header is missing. Anything else is a 400 problem.
 */
export function personOf(header: string | string[] | undefined): string {
  if (header === undefined) return PERSON_DEFAULT;
  const name = decoded(String(header)).trim();
  if (name === '') return PERSON_DEFAULT;
  if (name.length > PERSON_LENGTH_MAX || /[\p{Cc}\p{Cs}]/u.test(name)) {
    const detail = `${PERSON_HEADER} must be at most ${PERSON_LENGTH_MAX} printable characters.`;
    throw new Problem({ status: 400, code: 'bad-person', detail });
  }
  return name;
}

function decoded(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

/** Who acts in a request. Throws as `personOf` does. */
export const personIn = ({ headers }: Pick<FastifyRequest, 'headers'>): string =>
  personOf(headers[PERSON_HEADER.toLowerCase()]);

/** Parameter decorator: who acts in this request. */
export const Who = createParamDecorator((_: unknown, context: ExecutionContext): string =>
  personIn(context.switchToHttp().getRequest<FastifyRequest>()),
);
