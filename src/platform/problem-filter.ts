import { STATUS_CODES } from 'node:http';
import { Catch, HttpException, Logger } from '@nestjs/common';
import type { ArgumentsHost, ExceptionFilter } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { problemOfDatabase } from './database-problems.js';
import { Problem } from './problem.js';
import type { ProblemPart } from './problem.js';

export const PROBLEM_JSON = 'application/problem+json; charset=utf-8';

/** What an HTTP status thrown by the framework is called, where `Problem` did not say it more exactly. */
const CODES: Record<number, string> = {
  400: 'malformed-request',
  403: 'forbidden',
  404: 'no-such-route',
  405: 'method-not-allowed',
  413: 'too-large',
  414: 'too-large',
  415: 'unsupported-media-type',
  431: 'too-large',
  503: 'unavailable',
};

/** What a page asked for and could not be given, or did and was refused, as HTML. */
export type ProblemPage = (asked: { path: string; isPart: boolean; requestId: string }, problem: Problem) => string;

/** Addresses that programs ask: they are answered in JSON, whatever they say they accept. */
const FOR_PROGRAMS = /^\/(api|health|assets)([/?]|$)/;

export const isForPrograms = (url: string): boolean => FOR_PROGRAMS.test(url);

/** The one place where an error becomes an answer: RFC 9457 problem details, never the inside of the program. */
@Catch()
export class ProblemFilter implements ExceptionFilter {
  private readonly logger = new Logger('http');

  constructor(private readonly problemPage?: ProblemPage) {}

  catch(error: unknown, host: ArgumentsHost): void {
    const request = host.switchToHttp().getRequest<FastifyRequest>();
    const reply = host.switchToHttp().getResponse<FastifyReply>();
    const problem = problemOf(error);
    if (problem.status >= 500) {
      this.logger.error(`${request.method} ${pathOf(request.url)} ${request.id}: ${traceOf(error)}`);
    }
    if (reply.raw.headersSent) {
      reply.raw.destroy();
      return;
    }
    // closed while the body is still coming, the connection would be reset, and the sender might never read the answer
    reply.removeHeader('connection');
    const path = pathOf(request.url);
    void reply.status(problem.status);
    if (this.problemPage && wantsPage(request)) {
      const asked = { path, isPart: request.headers['hx-request'] === 'true', requestId: request.id };
      void reply.header('content-type', 'text/html; charset=utf-8').send(this.problemPage(asked, problem));
    } else void reply.header('content-type', PROBLEM_JSON).send(JSON.stringify(bodyOf(problem, path)));
  }
}

/** Whether a person looks at the answer: a browser names HTML among what it accepts, a program does not. */
function wantsPage(request: FastifyRequest): boolean {
  return (request.headers.accept ?? '').includes('text/html') && !isForPrograms(request.url);
}

/** The problem any thrown thing stands for; a fault of the program is a 500 that says nothing of it. */
export function problemOf(error: unknown): Problem {
  if (error instanceof Problem) return error;
  if (error instanceof HttpException && error.getStatus() < 500) {
    const status = error.getStatus();
    return new Problem({ status, code: CODES[status] ?? 'refused', detail: error.message });
  }
  const detail = 'Something went wrong here. The log of the server says what, under the id in the header X-Request-Id.';
  return problemOfDatabase(error) ?? new Problem({ status: 500, code: 'internal', detail });
}

/** The members of RFC 9457 with our `code` and `errors`. */
export function bodyOf(problem: Problem, instance: string): Record<string, unknown> {
  return {
    ...problem.extra,
    type: 'about:blank',
    title: STATUS_CODES[problem.status] ?? 'Problem',
    status: problem.status,
    detail: problem.message,
    instance,
    code: problem.code,
    ...(problem.errors.length > 0 && { errors: problem.errors.map(forPrograms) }),
  };
}

const forPrograms = ({ pointer, detail, code }: ProblemPart): ProblemPart => ({
  pointer,
  detail,
  ...(code !== undefined && { code }),
});

function traceOf(error: unknown): string {
  return error instanceof Error ? (error.stack ?? error.message) : String(error);
}

/** The path without the query, which may hold what is nobody's business. */
function pathOf(url: string): string {
  return url.split('?', 1)[0] ?? url;
}
