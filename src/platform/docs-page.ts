import type { OpenAPIObject } from '@nestjs/swagger';
import { operationsOf } from './openapi-operations.js';
import type { Operation, PlacedOperation } from './openapi-operations.js';

type Schema = Record<string, unknown>;
type Show = (schema: unknown) => string;

const INDENT = '  ';
/** Stands around a name in a text that becomes a link once the text is escaped. */
const MARK = '\u0001';

export const DOCS_STYLE = `
:root { color-scheme: light dark; font: 16px/1.5 system-ui, sans-serif }
body { max-width: 60rem; margin: 0 auto; padding: 1rem }
h2 { margin-top: 2rem; border-bottom: 1px solid }
summary { cursor: pointer; padding: .3rem 0 }
summary code { font-weight: 600 }
details > div { padding: 0 0 1rem 1.2rem }
pre { white-space: pre-wrap; overflow-wrap: anywhere; padding: .6rem; border: 1px solid GrayText; border-radius: .3rem; scroll-margin-top: 3rem }
.note { color: GrayText }
`;

/**
 * The description of the API as one page a person can read, without a script and without asking anybody else. What has a
 * name of its own is shown once, at the end, and led to from wherever it is used.
 */
export function docsPage(document: OpenAPIObject): string {
  const operations = operationsOf(document);
  const tagOf = ({ operation }: PlacedOperation) => operation.tags?.[0] ?? 'other';
  const tags = [...new Set(operations.map(tagOf))].sort();
  const about = new Map(document.tags?.map(({ name, description }) => [name, description ?? '']));
  const schemas = document.components?.schemas ?? {};
  const show: Show = (schema) => linked(schemaText(opened(schema as Schema, schemas)));
  const sections = tags.map((tag) => {
    const own = operations.filter((operation) => tagOf(operation) === tag);
    const routes = own.map((each) => operationHtml(each, document, show)).join('');
    return `<h2 id="${idOf(tag)}">${escape(tag)}</h2><p class="note">${escape(about.get(tag) ?? '')}</p>${routes}`;
  });
  const named = Object.entries(schemas).map(
    ([name, schema]) =>
      `<details><summary><code>${escape(name)}</code> ${escape('description' in schema ? schema.description : '')}</summary>
<div><pre id="schema-${escape(name)}">${show(schema)}</pre></div></details>`,
  );
  return `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>${escape(document.info.title)} API</title>
<meta name="viewport" content="width=device-width"><link rel="stylesheet" href="/api/docs.css"></head><body>
<h1>${escape(document.info.title)} API</h1><p>${escape(document.info.description)}</p>
<p>As data: <a href="/api/openapi.json">/api/openapi.json</a> (OpenAPI ${escape(document.openapi)})</p>
<nav><ul>${tags.map((tag) => `<li><a href="#${idOf(tag)}">${escape(tag)}</a></li>`).join('')}
<li><a href="#names">what has a name</a></li></ul></nav>
<main>${sections.join('')}<h2 id="names">What has a name</h2>${named.join('')}</main>
</body></html>`;
}

function operationHtml(
  { path, method, operation }: PlacedOperation,
  { components }: OpenAPIObject,
  show: Show,
): string {
  const parts: string[] = [];
  if (operation.description) parts.push(`<p>${escape(operation.description)}</p>`);
  const parameters = (operation.parameters ?? []).map((parameter) =>
    '$ref' in parameter ? found<Parameter>(parameter.$ref, components?.parameters) : parameter,
  );
  if (parameters.length > 0) {
    const lines = parameters.map(({ name, in: place, required, schema, description }) => {
      const note = description ? `  // ${description}` : '';
      return `${escape(`${place} ${name}${required ? '' : '?'}: `)}${linked(schemaText(schema as Schema))}${escape(note)}`;
    });
    parts.push(`<h3>Parameters</h3><pre>${lines.join('\n')}</pre>`);
  }
  if (operation.requestBody && 'content' in operation.requestBody) {
    parts.push('<h3>Body</h3>', ...contentHtml(operation.requestBody.content, show));
  }
  for (const [status, response] of Object.entries(operation.responses)) {
    if (!response || '$ref' in response || !('description' in response)) continue;
    parts.push(`<h3>${escape(status)} <span class="note">${escape(response.description)}</span></h3>`);
    parts.push(...contentHtml(response.content ?? {}, show));
  }
  parts.push('<p class="note">Anything else is a <a href="#schema-Problem">problem</a>.</p>');
  const title = `<code>${method.toUpperCase()} ${escape(path)}</code> ${escape(operation.summary)}`;
  return `<details><summary>${title}</summary><div>${parts.join('')}</div></details>`;
}

type Parameter = Extract<NonNullable<Operation['parameters']>[number], { name: string }>;

const nameIn = (ref: string): string => ref.split('/').at(-1)!;
const found = <Part>(ref: string, parts: Record<string, unknown> | undefined): Part => parts?.[nameIn(ref)] as Part;

/** What a name at the top of a body or an answer stands for; the names in it stay names. */
function opened(schema: Schema | undefined, schemas: Record<string, unknown>): Schema | undefined {
  return typeof schema?.['$ref'] === 'string' ? opened(found(schema['$ref'], schemas), schemas) : schema;
}

function contentHtml(content: Record<string, { schema?: unknown }>, show: Show): string[] {
  return Object.entries(content).map(([type, { schema }]) => {
    const ref = (schema as Schema | undefined)?.['$ref'];
    const name = typeof ref === 'string' ? ` ${linked(MARK + nameIn(ref) + MARK)}` : '';
    return `<p class="note">${escape(type)}${name}</p><pre>${show(schema)}</pre>`;
  });
}

const linked = (text: string): string => escape(text).replaceAll(LINK, '<a href="#schema-$1">$1</a>');
const LINK = new RegExp(`${MARK}(\\w+)${MARK}`, 'g');
const idOf = (tag: string): string => escape(tag.replaceAll(' ', '-'));

/** A JSON schema in the way a programmer would write the type. */
function schemaText(schema: Schema | undefined, indent = ''): string {
  if (schema === undefined) return 'any';
  const inner = (part: unknown, deeper = indent) => schemaText(part as Schema, deeper);
  if (typeof schema['$ref'] === 'string')
    return [MARK + nameIn(schema['$ref']) + MARK, rangeText(schema)].filter(Boolean).join(' ');
  if ('const' in schema) return JSON.stringify(schema['const']);
  if (Array.isArray(schema['enum'])) return schema['enum'].map((each) => JSON.stringify(each)).join(' | ');
  const choices = schema['anyOf'] ?? schema['oneOf'];
  if (Array.isArray(choices)) return choices.map((each) => inner(each)).join(' | ');
  if (Array.isArray(schema['allOf'])) return schema['allOf'].map((each) => inner(each)).join(' & ');
  if (schema['type'] === 'array') return `[ ${inner(schema['items'])}, ... ]`;
  if (schema['type'] === 'object') return objectText(schema, indent, inner);
  const type = Array.isArray(schema['type']) ? schema['type'].join(' | ') : (schema['type'] ?? 'any');
  return [type, rangeText(schema), schema['format'], schema['pattern']].filter(Boolean).join(' ');
}

function objectText(schema: Schema, indent: string, inner: (part: unknown, indent: string) => string): string {
  const deeper = indent + INDENT;
  const required = new Set((schema['required'] as string[] | undefined) ?? []);
  const lines = Object.entries((schema['properties'] as Record<string, Schema> | undefined) ?? {}).map(
    ([name, part]) => {
      const note = typeof part['description'] === 'string' ? `  // ${part['description']}` : '';
      return `${deeper}${name}${required.has(name) ? '' : '?'}: ${inner(part, deeper)}${note}`;
    },
  );
  const others = schema['additionalProperties'];
  if (others && Object.keys(others).length > 0) lines.push(`${deeper}[name]: ${inner(others, deeper)}`);
  return lines.length === 0 ? '{}' : `{\n${lines.join('\n')}\n${indent}}`;
}

function rangeText(schema: Schema): string {
  const bounds = [
    [schema['minimum'] ?? schema['minLength'], '≥'],
    [schema['exclusiveMinimum'], '>'],
    [schema['maximum'] ?? schema['maxLength'], '≤'],
    [schema['exclusiveMaximum'], '<'],
  ] as const;
  const isTold = (bound: unknown) => typeof bound === 'number' && Math.abs(bound) !== Number.MAX_SAFE_INTEGER;
  return bounds.flatMap(([bound, sign]) => (isTold(bound) ? [`${sign} ${String(bound)}`] : [])).join(' ');
}

function escape(text = ''): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}
