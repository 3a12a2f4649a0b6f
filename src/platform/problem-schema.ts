import { ApiResponse } from '@nestjs/swagger';
import { z } from 'zod';

const problemPart = z
  .object({ pointer: z.string(), detail: z.string(), code: z.string().optional() })
  .meta({ id: 'ProblemPart' });

const members = {
  type: z.string(),
  title: z.string(),
  status: z.int(),
  detail: z.string().describe('One sentence for a person'),
  instance: z.string().describe('The path that was asked'),
  code: z.string().describe('Stable: what a program branches on'),
  errors: z
    .array(problemPart)
    .optional()
    .describe('JSON pointers into the body; /query/name and /path/name for the rest'),
};

/** What every answer is that is no success. */
export const problem = z.object(members).meta({ id: 'Problem', description: 'Problem details, RFC 9457' });

/** A problem some of whose codes come with members of their own, each named with its code in what describes it. */
export const problemWith = <Further extends z.ZodRawShape>(id: string, further: Further) =>
  z
    .object({ ...members, ...z.object(further).partial().shape })
    .meta({ id, description: 'Problem details, RFC 9457, with more where the code says so' });

/** Says of a route that its refusals are problems with further members. */
export const ApiProblem = (standardSchema: z.ZodType): MethodDecorator & ClassDecorator =>
  ApiResponse({ status: '4XX', description: 'A problem', standardSchema });
