import type { OpenAPIObject } from '@nestjs/swagger';

type Operation = NonNullable<OpenAPIObject['paths'][string]['get']>;
type Schema = Record<string, unknown>;

const METHODS = ['get', 'post', 'put', 'patch', 'delete'] as const;
const INDENT = '  ';

export const DOCS_STYLE = `
:root { color-scheme: light dark; font: 16px/1.5 system-ui, sans-serif }
body { max-width: 60rem; margin: 0 auto; padding: 1rem }
h2 { margin-top: 2rem; border-bottom: 1px solid }
summary { cursor: pointer; padding: .3rem 0 }
summary code { font-weight: 600 }
details > div { padding: 0 0 1rem 1.2rem }
pre { overflow-x: auto; padding: .6rem; border: 1px solid GrayText; border-radius: .3rem }
.note { color: GrayText }
`;

/** The description of the API as one page a person can read, without a script and without asking anybody else. */
export function docsPage(document: OpenAPIObject): string {
  const operations = Object.entries(document.paths).flatMap(([path, item]) =>
    METHODS.flatMap((method) => (item[method] ? [{ path, method, operation: item[method] }] : [])),
  );
  const tagOf = ({ operation }: { operation: Operation }) => operation.tags?.[0] ?? 'other';
  const tags = [...new Set(operations.map(tagOf))].sort();
  const show = (schema: unknown) => schemaText(schema as Schema, document);
  const sections = tags.map((tag) => {
    const own = operations.filter((operation) => tagOf(operation) === tag);
    return `<h2 id="${escape(tag)}">${escape(tag)}</h2>${own.map((each) => operationHtml(each, show)).join('')}`;
  });
  return `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>${escape(document.info.title)} API</title>
<meta name="viewport" content="width=device-width"><link rel="stylesheet" href="/api/docs.css"></head><body>
<h1>${escape(document.info.title)} API</h1><p>${escape(document.info.description ?? '')}</p>
<p>As data: <a href="/api/openapi.json">/api/openapi.json</a> (OpenAPI ${escape(document.openapi)})</p>
<nav><ul>${tags.map((tag) => `<li><a href="#${escape(tag)}">${escape(tag)}</a></li>`).join('')}</ul></nav>
<main>${sections.join('')}<h2 id="problem">Problem</h2><pre>${escape(show(document.components?.schemas?.['Problem']))}</pre></main>
</body></html>`;
}

function operationHtml(
  { path, method, operation }: { path: string; method: string; operation: Operation },
  show: (schema: unknown) => string,
): string {
  const parts: string[] = [];
  if (operation.description) parts.push(`<p>${escape(operation.description)}</p>`);
  const parameters = (operation.parameters ?? []).flatMap((parameter) => ('name' in parameter ? [parameter] : []));
  if (parameters.length > 0) {
    const lines = parameters.map(({ name, in: place, required, schema, description }) => {
      const note = description ? `  // ${description}` : '';
      return `${place} ${name}${required ? '' : '?'}: ${show(schema)}${note}`;
    });
    parts.push(`<h3>Parameters</h3><pre>${escape(lines.join('\n'))}</pre>`);
  }
  if (operation.requestBody && 'content' in operation.requestBody) {
    parts.push('<h3>Body</h3>', ...contentHtml(operation.requestBody.content, show));
  }
  for (const [status, response] of Object.entries(operation.responses)) {
    if (!response || '$ref' in response || !('description' in response)) continue;
    parts.push(`<h3>${escape(status)} <span class="note">${escape(response.description)}</span></h3>`);
    parts.push(...contentHtml(response.content ?? {}, show));
  }
  parts.push('<p class="note">Anything else is a <a href="#problem">problem</a>.</p>');
  const title = `<code>${method.toUpperCase()} ${escape(path)}</code> ${escape(operation.summary ?? '')}`;
  return `<details><summary>${title}</summary><div>${parts.join('')}</div></details>`;
}

function contentHtml(content: Record<string, { schema?: unknown }>, show: (schema: unknown) => string): string[] {
  return Object.entries(content).map(
    ([type, { schema }]) => `<p class="note">${escape(type)}</p><pre>${escape(show(schema))}</pre>`,
  );
}

/** A JSON schema in the way a programmer would write the type. */
function schemaText(schema: Schema | undefined, document: OpenAPIObject, indent = ''): string {
  if (schema === undefined) return 'any';
  const inner = (part: unknown, deeper = indent) => schemaText(part as Schema, document, deeper);
  if (typeof schema['$ref'] === 'string') {
    const name = schema['$ref'].split('/').at(-1)!;
    // a part that holds itself would never end
    return indent.length > 16 ? name : inner(document.components?.schemas?.[name]);
  }
  if ('const' in schema) return JSON.stringify(schema['const']);
  if (Array.isArray(schema['enum'])) return schema['enum'].map((each) => JSON.stringify(each)).join(' | ');
  const choices = schema['anyOf'] ?? schema['oneOf'];
  if (Array.isArray(choices)) return choices.map((each) => inner(each)).join(' | ');
  if (Array.isArray(schema['allOf'])) return schema['allOf'].map((each) => inner(each)).join(' & ');
  if (schema['type'] === 'array') return `[ ${inner(schema['items'])}, ... ]`;
  if (schema['type'] === 'object') return objectText(schema, indent, inner);
  return [schema['type'] ?? 'any', rangeText(schema), schema['format'], schema['pattern']].filter(Boolean).join(' ');
}

function objectText(schema: Schema, indent: string, inner: (part: unknown, indent: string) => string): string {
  const deeper = indent + INDENT;
  const required = new Set((schema['required'] as string[] | undefined) ?? []);
  const lines = Object.entries((schema['properties'] as Record<string, Schema> | undefined) ?? {}).map(
    ([name, part]) => {
      const note = part['description'] ? `  // ${String(part['description'])}` : '';
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

function escape(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}
