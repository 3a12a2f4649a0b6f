import { z } from 'zod';

type Io = 'input' | 'output';

const PLACE = '#/components/schemas/';
const MOST = Number.MAX_SAFE_INTEGER;
const WHOLE = {
  Integer: { type: 'integer', minimum: -MOST, maximum: MOST, description: 'What a JSON number holds exactly' },
  Count: { type: 'integer', minimum: 0, maximum: MOST },
};

/**
 * The JSON Schemas of one document, 2020-12, which is what OpenAPI 3.1 speaks. What carries an id in its zod metadata is
 * written once, under that name, and pointed to wherever it is used.
 *
 * What is sent and what is answered may differ under one id: a default may be left out by who sends and is always there
 * in an answer. Then the answer has the name, and what is sent the name with `Input`. Until all is known, both stand under
 * `input:` and `output:`.
 */
export class NamedSchemas {
  private readonly parts = new Map<string, string>();

  /** The schema without its named parts, which are kept. Throws where another schema has the same id. */
  convert(schema: z.ZodType, io: Io): object {
    const made = z.toJSONSchema(schema, { io, override: ({ jsonSchema }) => nameWhole(jsonSchema) });
    const { $schema: _dialect, $defs = {}, ...own } = made;
    const inPlace = (part: object) => JSON.stringify(part).replaceAll('"#/$defs/', `"${PLACE}${io}:`);
    for (const [id, part] of Object.entries($defs)) {
      const text = inPlace(part);
      if ((this.parts.get(`${io}:${id}`) ?? text) !== text) throw new Error(`Two schemas have the id ${id}.`);
      this.parts.set(`${io}:${id}`, text);
    }
    return JSON.parse(inPlace(own)) as object;
  }

  /** A value of the document with every name as it is at last, and all the named schemas it may point to, by name. */
  settle<Value>(value: Value): { value: Value; schemas: Record<string, object> } {
    const nameOf = this.lastNames();
    const settled = (text: string): unknown =>
      JSON.parse(text.replaceAll(REFERENCE, (_, key: string) => `"${PLACE}${nameOf.get(key) ?? key}"`));
    const schemas: Record<string, object> = {};
    for (const [key, text] of this.parts) {
      const name = nameOf.get(key)!;
      const schema = settled(text) as object;
      if (name in schemas && JSON.stringify(schemas[name]) !== JSON.stringify(schema))
        throw new Error(`Two schemas would have the name ${name}.`);
      schemas[name] = schema;
    }
    Object.assign(schemas, WHOLE);
    const answer = { value: settled(JSON.stringify(value)) as Value, schemas };
    nameNullable(answer, schemas);
    dropRepeated(answer, schemas);
    return { ...answer, schemas: sortedByKey(schemas) };
  }

  private lastNames(): Map<string, string> {
    const ids = new Set([...this.parts.keys()].map(idOf));
    const same = new Set(ids);
    // two that point to others are the same only if those are
    const textOf = (key: string) =>
      this.parts
        .get(key)
        ?.replaceAll(REFERENCE, (whole, other: string) => (same.has(idOf(other)) ? `"${idOf(other)}"` : whole));
    const differs = (id: string) => {
      const [sent, answered] = [textOf(`input:${id}`), textOf(`output:${id}`)];
      return sent !== undefined && answered !== undefined && sent !== answered;
    };
    for (let before = -1; before !== same.size;) {
      before = same.size;
      for (const id of same) if (differs(id)) same.delete(id);
    }
    const isSent = (key: string) => key.startsWith('input:');
    return new Map(
      [...this.parts.keys()].map((key) => [key, idOf(key) + (isSent(key) && !same.has(idOf(key)) ? 'Input' : '')]),
    );
  }
}

const REFERENCE = new RegExp(`"${PLACE}((?:input|output):[^"]+)"`, 'g');
const idOf = (key: string): string => key.slice(key.indexOf(':') + 1);

/** zod writes the bounds of what a number holds exactly beside every integer: here they have a name. */
function nameWhole(schema: z.core.JSONSchema.BaseSchema): void {
  if (schema.type !== 'integer') return;
  const isNamed = Object.keys(WHOLE).includes(String(schema.$ref).slice(PLACE.length));
  // with the name of what it was made from come all its bounds, which may be narrower than that
  if (isNamed) delete schema.$ref;
  if (schema.$ref !== undefined || schema.maximum !== MOST) return;
  const name = Object.keys(WHOLE).find((each) => schema.minimum === WHOLE[each as 'Count'].minimum);
  if (name === undefined) return;
  for (const key of ['type', 'minimum', 'maximum'] as const) delete schema[key];
  schema.$ref = PLACE + name;
}

const sortedByKey = <Value>(record: Record<string, Value>): Record<string, Value> =>
  Object.fromEntries(Object.entries(record).sort(([a], [b]) => (a < b ? -1 : 1)));

/** A named schema or null, which stands in many places, gets a name too: `DayOrNull`. */
function nameNullable(node: unknown, schemas: Record<string, object>): void {
  if (typeof node !== 'object' || node === null) return;
  for (const part of Object.values(node)) nameNullable(part, schemas);
  const schema = node as { anyOf?: [{ $ref?: string }, { type?: string }]; $ref?: string };
  if (schema.anyOf?.length !== 2) return;
  const [named, none] = schema.anyOf;
  if (none.type !== 'null' || named.$ref === undefined || Object.keys(named).length > 1) return;
  const name = `${named.$ref.slice(PLACE.length)}OrNull`;
  delete schema.anyOf;
  schema.$ref = PLACE + name;
  schemas[name] = { anyOf: [named, none] };
}

/** What narrows a named schema says again what that says: only what differs stays. */
function dropRepeated(node: unknown, schemas: Record<string, object>): void {
  if (typeof node !== 'object' || node === null) return;
  for (const part of Object.values(node)) dropRepeated(part, schemas);
  const schema = node as Record<string, unknown>;
  for (let at = schema; typeof at['$ref'] === 'string';) {
    at = (schemas[at['$ref'].slice(PLACE.length)] ?? {}) as Record<string, unknown>;
    for (const key of Object.keys(at))
      if (key !== '$ref' && JSON.stringify(at[key]) === JSON.stringify(schema[key])) delete schema[key];
  }
}
