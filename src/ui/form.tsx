import type { PropsWithChildren } from '@kitajs/html';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { asSentence } from '../platform/plain-words.js';
import type { Problem, ProblemPart } from '../platform/problem.js';
import { problemOf } from '../platform/problem-filter.js';
import { checkedInput } from '../platform/validation.js';
import { FieldName, labelled } from './field-names.js';

/** What a form sent: text by the name of its field. Of a name sent more than once the last counts. */
export type Sent = Record<string, string>;

/** Any form, its text not yet looked at: what is wrong in it is said on the page, beside its field. */
export const sentForm = z
  .record(
    z.string().max(80),
    z.union([
      z.string().max(100_000),
      z
        .array(z.string().max(100_000))
        .max(10)
        .transform((all) => all.at(-1) ?? ''),
    ]),
  )
  .refine((form) => Object.keys(form).length <= 2_000, 'has too many fields');

/** A filter in an address: nothing written there means no filter. */
export const blankIsNone = <Schema extends z.ZodType>(schema: Schema) =>
  z.preprocess((value) => (typeof value === 'string' && value.trim() === '' ? undefined : value), schema.optional());

/** The text of a field without space around it; undefined when nothing is written. */
export function written(sent: Sent, name: string): string | undefined {
  const text = sent[name]?.trim();
  return text === undefined || text === '' ? undefined : text;
}

/** An amount as a person writes it: on its own, a number for what is weighed is in grams, as the field says. */
export function writtenAmount(text: string | undefined, isWeighed: boolean): string {
  return isWeighed && /^\d+(\.\d+)?$/.test(text ?? '') ? `${text} g` : (text ?? '');
}

/** A whole number as one; other text stays text, so that the fault of its field says what was written. */
export const wholeOrText = (text: string | undefined): number | string | undefined =>
  text !== undefined && /^\d{1,9}$/.test(text) ? Number(text) : text;

/** What is wrong with a form: one sentence, and a sentence for each field by its place, such as `quantity` or `lines/2`. */
export interface Fault {
  detail: string;
  fields: Record<string, string>;
  /** The sentence says no more than those of the fields, so that these are to be named with it. */
  isOfFields?: boolean;
}

/** Reads a body as the API does. Throws the same 422 problem. */
export const bodyOf = <Schema extends z.ZodType>(schema: Schema, body: unknown): z.infer<Schema> =>
  checkedInput(schema, body);

/**
 * What a person can put right, of what an act threw; everything else is thrown again. Sets the status of the answer,
 * which then shows the form again with the fault beside its field.
 */
export function faultOf(error: unknown, reply: FastifyReply): Fault {
  const problem = problemOf(error);
  if (problem.status !== 409 && problem.status !== 422) throw error;
  void reply.status(problem.status);
  const fields: Record<string, string> = {};
  for (const { pointer, detail, words } of problem.errors) fields[pointer.slice(1)] ??= words ?? asSentence(detail);
  if (problem.field !== undefined && problem.words !== undefined) fields[problem.field] ??= problem.words;
  return { ...sayOf(problem), fields };
}

/** What is said of a form as a whole. A place is said by its field; nobody calls it as a program does. */
export function sayOf({ message, words, errors }: Problem): Pick<Fault, 'detail' | 'isOfFields'> {
  const [one, ...more] = errors;
  const isOfFields =
    one !== undefined && (more.length > 0 ? /^\d+ fields are not valid\.$/.test(message) : isOnly(one, message));
  if (!isOfFields) return { detail: words ?? asSentence(message) };
  return {
    detail: more.length > 0 ? `${errors.length} things are not right yet.` : (one.words ?? asSentence(one.detail)),
    isOfFields,
  };
}

const isOnly = ({ pointer, detail }: ProblemPart, message: string): boolean =>
  message === `${pointer || 'The body'}: ${detail}`;

/** Sends the browser on, with GET, so that a reload does nothing twice. The empty text is the answer's body. */
export function goTo(
  reply: FastifyReply,
  path: string,
  query: Record<string, string | readonly string[]> = {},
): string {
  const asked = new URLSearchParams();
  for (const [name, value] of Object.entries(query))
    for (const one of typeof value === 'string' ? [value] : value) asked.append(name, one);
  void reply.status(303).header('location', asked.size > 0 ? `${path}?${asked.toString()}` : path);
  return '';
}

/** The fault as a whole, above its form. */
export function FaultNote({ fault }: { fault: Fault | undefined }): JSX.Element {
  if (!fault) return <></>;
  const { detail, fields, isOfFields } = fault;
  const said = Object.entries(fields);
  if (!isOfFields || said.length === 0) {
    return (
      <p class="note bad" role="alert" safe>
        {detail}
      </p>
    );
  }
  return (
    <div class="note bad" role="alert">
      {said.length > 1 && <p safe>{detail}</p>}
      {said.map(([pointer, words]) => (
        <p>
          <FieldName pointer={pointer} />: <span safe>{words}</span>
        </p>
      ))}
    </div>
  );
}

export interface FieldProps {
  /** Name of the field and, where a page has several forms, with `form` its id. */
  name: string;
  form: string;
  label: string;
  hint?: string;
  fault?: Fault;
  /** Where a fault of this field points, if not at its name. */
  pointer?: string;
}

/** The message of a field, and how it is tied to it. */
export function faultAt({ name, fault, pointer }: Pick<FieldProps, 'name' | 'fault' | 'pointer'>): string | undefined {
  return fault?.fields[pointer ?? name];
}

export function TextField(
  props: FieldProps & {
    value?: string;
    type?: 'text' | 'date' | 'number';
    required?: boolean;
    inputmode?: 'decimal' | 'numeric';
    list?: string;
    maxlength?: number;
    placeholder?: string;
  },
): JSX.Element {
  const { name, form, value, type, required, inputmode, list, maxlength, placeholder } = props;
  const id = `${form}-${name}`;
  return (
    <FieldFrame {...props}>
      <input
        id={id}
        name={name}
        type={type ?? 'text'}
        value={value ?? ''}
        required={required}
        inputmode={inputmode}
        list={list}
        maxlength={String(maxlength ?? 500)}
        placeholder={placeholder}
        autocomplete="off"
        {...tiesOf(props, id)}
      />
    </FieldFrame>
  );
}

export function ChoiceField(
  props: FieldProps & { value?: string; choices: readonly (readonly [value: string, words: string])[] },
): JSX.Element {
  const { name, form, value, choices } = props;
  const id = `${form}-${name}`;
  return (
    <FieldFrame {...props}>
      <select id={id} name={name} {...tiesOf(props, id)}>
        {choices.map(([choice, words]) => (
          <option value={choice} selected={choice === value} safe>
            {words}
          </option>
        ))}
      </select>
    </FieldFrame>
  );
}

/** Text of several lines; a fault in one of them is a fault of the field. */
export function LinesField(props: FieldProps & { value?: string; rows?: number }): JSX.Element {
  const { name, form, value, fault } = props;
  const id = `${form}-${name}`;
  const pointer = Object.keys(fault?.fields ?? {}).find((at) => at === name || at.startsWith(`${name}/`));
  const tied = { ...props, pointer };
  return (
    <FieldFrame {...tied}>
      <textarea id={id} name={name} rows={String(props.rows ?? 4)} maxlength="8000" {...tiesOf(tied, id)} safe>
        {value ?? ''}
      </textarea>
    </FieldFrame>
  );
}

/** What stands on each line of a field, without the empty ones. */
export const linesIn = (sent: Sent, name: string): string[] =>
  (sent[name] ?? '')
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '');

/** A field of a form by its name: with what was sent of it, or stands there now, and what was wrong with that. */
export const fieldsOf =
  (form: string, { sent, fault }: { sent?: Sent | undefined; fault?: Fault | undefined }) =>
  (name: string, now?: string) => ({ name, form, value: sent?.[name] ?? now, fault });

/** What ties a field to its hint and its fault for those who cannot see that they stand together. */
export function tiesOf(props: FieldProps, id: string): { 'aria-describedby'?: string; 'aria-invalid'?: 'true' } {
  const fault = faultAt(props);
  const ids = [props.hint ? `${id}-hint` : '', fault ? `${id}-fault` : ''].filter((one) => one !== '');
  return {
    ...(ids.length > 0 && { 'aria-describedby': ids.join(' ') }),
    ...(fault !== undefined && { 'aria-invalid': 'true' as const }),
  };
}

export function FieldFrame(props: PropsWithChildren<FieldProps>): JSX.Element {
  const { name, form, label, hint, children } = props;
  const fault = faultAt(props);
  const id = `${form}-${name}`;
  return (
    <div class="field">
      <label for={id} {...labelled(props)} safe>
        {label}
      </label>
      {children}
      {!!hint && (
        <div class="hint" id={`${id}-hint`} safe>
          {hint}
        </div>
      )}
      {!!fault && (
        <div class="fault" id={`${id}-fault`} safe>
          {fault}
        </div>
      )}
    </div>
  );
}

/** A box to tick, which sends `yes`. */
export function Tick({ name, words, isOn }: { name: string; words: string; isOn: boolean }): JSX.Element {
  return (
    <label class="check">
      <input type="checkbox" name={name} value="yes" checked={isOn} />
      <span safe>{words}</span>
    </label>
  );
}
