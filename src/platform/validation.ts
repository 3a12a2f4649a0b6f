import { Readable } from 'node:stream';
import { Injectable } from '@nestjs/common';
import type { ArgumentMetadata, PipeTransform } from '@nestjs/common';
import type { core, z } from 'zod';
import { ofUnion, plainWords } from './plain-words.js';
import { Problem } from './problem.js';
import type { ProblemPart } from './problem.js';

const ERRORS_MAX = 100;

/** Where each source of input stands in a pointer: the body is the document itself. */
const PLACES: Record<string, string> = { body: '', query: '/query', param: '/path' };

const CODES: Record<string, string> = {
  invalid_type: 'wrong-type',
  unrecognized_keys: 'unknown-field',
  too_small: 'out-of-range',
  too_big: 'out-of-range',
};

/** Checks whatever carries a zod schema and says each fault with a pointer to its field: 422, or 415 for a stream. */
@Injectable()
export class ValidationPipe implements PipeTransform {
  async transform(value: unknown, metadata: ArgumentMetadata): Promise<unknown> {
    const { schema, type, data } = metadata;
    if (!schema || type === 'custom') return value;
    refuseStream(value);
    const result = await schema['~standard'].validate(value);
    if (!result.issues) return result.value;
    const place = `${PLACES[type] ?? ''}${data === undefined ? '' : `/${data}`}`;
    throw problemOfIssues(result.issues as core.$ZodIssue[], place);
  }
}

/** What `schema` reads in what was sent. Throws the same problems as the pipe, pointers starting at `place`. */
export function checkedInput<Schema extends z.ZodType>(schema: Schema, value: unknown, place = ''): z.infer<Schema> {
  refuseStream(value);
  const read = schema.safeParse(value);
  if (read.success) return read.data;
  throw problemOfIssues(read.error.issues, place);
}

function refuseStream(value: unknown): void {
  if (!(value instanceof Readable)) return;
  throw new Problem({ status: 415, code: 'unsupported-media-type', detail: 'Send the body as application/json.' });
}

/** The 422 for what zod found, pointers starting at `place`. */
export function problemOfIssues(issues: readonly core.$ZodIssue[], place = ''): Problem {
  const errors = issues.flatMap((issue) => partsOf(issue, place)).slice(0, ERRORS_MAX);
  const detail =
    errors.length === 1
      ? `${errors[0]!.pointer || 'The body'}: ${errors[0]!.detail}`
      : `${errors.length} fields are not valid.`;
  return new Problem({ status: 422, code: 'invalid', detail, errors });
}

function partsOf(issue: core.$ZodIssue, place: string): ProblemPart[] {
  const pointer = pointerTo(place, issue.path);
  const words = plainWords(issue);
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => ({
      pointer: pointerTo(pointer, [key]),
      detail: 'is not known here',
      code: 'unknown-field',
      words,
    }));
  }
  if (issue.code === 'invalid_union') return partsOfUnion(issue, pointer);
  if (issue.code === 'invalid_type' && issue.message.endsWith('received undefined')) {
    return [{ pointer, detail: 'is required', code: 'required', words }];
  }
  const detail = issue.message.replace(/^(Invalid input|Too big|Too small|Invalid string): /, '');
  return [{ pointer, detail, code: CODES[issue.code] ?? 'invalid', words }];
}

/** Of the ways a value may be written, the one whose type it has says what is wrong; if none has, all are named. */
function partsOfUnion(issue: core.$ZodIssueInvalidUnion, pointer: string): ProblemPart[] {
  const isOtherType = (part: core.$ZodIssue) => part.code === 'invalid_type' && part.path.length === 0;
  const near = issue.errors.find((branch) => !branch.some(isOtherType));
  if (near) return near.flatMap((part) => partsOf(part, pointer));
  const types = issue.errors
    .flatMap((branch) => branch.filter(isOtherType))
    .map((part) => 'expected' in part && part.expected);
  const detail = types.length > 0 ? `expected ${types.join(' or ')}` : issue.message;
  return [{ pointer, detail, code: 'wrong-type', words: ofUnion(issue) }];
}

/** RFC 6901: a slash before each step, `~` and `/` inside a step escaped. */
function pointerTo(start: string, path: readonly PropertyKey[]): string {
  return start + path.map((step) => `/${String(step).replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');
}
