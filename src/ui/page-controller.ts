import { Controller, createParamDecorator, Header } from '@nestjs/common';
import type { ExecutionContext } from '@nestjs/common';
import { ApiExcludeController } from '@nestjs/swagger';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import { personIn } from '../platform/person.js';
import { checkedInput } from '../platform/validation.js';
import { type Sent, sentForm } from './form.js';

const HTML = Header('content-type', 'text/html; charset=utf-8');

/** A controller of pages: all its handlers answer HTML, and the description of the API leaves them out. */
export function PageController(path = ''): ClassDecorator {
  return (page) => {
    for (const [name, method] of Object.entries(Object.getOwnPropertyDescriptors(page.prototype))) {
      const handler: unknown = method.value;
      if (typeof handler !== 'function' || !Reflect.hasMetadata('path', handler)) continue;
      // a handler that answers a file says so itself
      if (!Reflect.hasMetadata('__headers__', handler)) HTML(page.prototype as object, name, method);
    }
    ApiExcludeController()(page);
    Controller(path)(page);
  };
}

/** A form as it was sent. */
export interface Filled<Path extends z.ZodType = z.ZodType<Record<string, never>>> {
  who: string;
  /** What the address names. */
  path: z.infer<Path>;
  sent: Sent;
  /** To send the browser on, or to set the status where the form comes back. */
  reply: FastifyReply;
}

/** Parameter decorator: the form a person sent, `path` being what the address names. Throws a 422 problem for either. */
export const Filled = (path?: z.ZodType): ParameterDecorator => filled({ path });

// the schema is wrapped: what has a method `transform` is taken for a pipe
const filled = createParamDecorator(({ path }: { path: z.ZodType | undefined }, context: ExecutionContext): Filled => {
  const http = context.switchToHttp();
  const request = http.getRequest<FastifyRequest>();
  return {
    who: personIn(request),
    path: (path ? checkedInput(path, request.params, '/path') : {}) as Record<string, never>,
    // a form of one button may send nothing
    sent: checkedInput(sentForm, request.body ?? {}),
    reply: http.getResponse<FastifyReply>(),
  };
});
