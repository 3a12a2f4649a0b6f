import { execFile } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { promisify } from 'node:util';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { format, type FormatOptions } from 'oxfmt';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { NamedSchemas } from '../../src/platform/named-schemas.js';
import { useTestApp } from '../support/app.js';

const api = useTestApp();

interface Document {
  openapi: string;
  paths: Record<string, Record<string, Operation>>;
  components: Record<string, Record<string, unknown>>;
}

interface Operation {
  operationId: string;
  summary?: string;
  tags?: string[];
  responses: Record<string, { content?: Record<string, { schema: unknown }> }>;
}

interface Linted {
  totals: { errors: number; warnings: number };
  problems: { ruleId: string; message: string }[];
}

/** As every file of the project is: one fact a line, so that a change of it can be read. */
const formatted = async (json: string): Promise<string> => {
  const house = JSON.parse(readFileSync('.oxfmtrc.json', 'utf8')) as FormatOptions;
  return (await format('openapi.json', JSON.stringify(JSON.parse(json)), house)).code;
};

const read = async () => (await api.request<Document>('GET', '/api/openapi.json')).body;

describe('the description of the API', () => {
  it('is the one that is kept with the code', async () => {
    const { text, status } = await api.request('GET', '/api/openapi.json');
    expect(status).toBe(200);
    await expect(await formatted(text)).toMatchFileSnapshot('../../src/openapi.json');
  });

  it('is OpenAPI 3.1: its schemas are JSON Schema 2020-12', async () => {
    const document = await read();
    expect(document.openapi).toBe('3.1.0');
    const faults: string[] = [];
    const walk = (value: unknown, path: string): void => {
      if (typeof value !== 'object' || value === null) return;
      const node = value as Record<string, unknown>;
      // these three were written otherwise in OpenAPI 3.0
      for (const name of ['exclusiveMinimum', 'exclusiveMaximum'])
        if (typeof node[name] === 'boolean') faults.push(path);
      if (typeof node['nullable'] === 'boolean') faults.push(path);
      if (typeof node['$ref'] === 'string' && resolve(document, node['$ref']) === undefined)
        faults.push(`${path} ${node['$ref']}`);
      for (const [key, part] of Object.entries(node)) walk(part, `${path}/${key}`);
    };
    walk(document, '');
    expect(faults).toEqual([]);
  });

  it('gives every route a name of its own, a summary, a tag, a success and the problems', async () => {
    const operations = Object.entries((await read()).paths).flatMap(([path, item]) =>
      Object.entries(item).map(([method, operation]) => ({ route: `${method} ${path}`, operation })),
    );
    expect(new Set(operations.map(({ operation }) => operation.operationId)).size).toBe(operations.length);
    const faults = operations.flatMap(({ route, operation }) => {
      const success = Object.entries(operation.responses).filter(([status]) => status.startsWith('2'));
      return [
        !operation.summary && `${route} has no summary`,
        !operation.tags?.length && `${route} has no tag`,
        success.length === 0 && `${route} has no success`,
        success.some(([status, { content }]) => status !== '204' && !content) &&
          `${route} does not say what it answers`,
        !('$ref' in (operation.responses['default'] ?? {})) && `${route} has no problems`,
      ].filter(Boolean);
    });
    expect(faults).toEqual([]);
  });
});

describe('the names of the API', () => {
  it('stand for each schema once: nothing that has fields, choices or words is written twice', async () => {
    const places = new Map<string, string[]>();
    const walk = (value: unknown, path: string): void => {
      if (typeof value !== 'object' || value === null) return;
      const { description: _said, default: _given, ...schema } = value as Record<string, unknown>;
      const isWorthAName =
        typeof schema['properties'] === 'object' ||
        (Array.isArray(schema['enum']) && schema['enum'].length > 1) ||
        (Array.isArray(schema['anyOf']) && JSON.stringify(schema['anyOf']).includes('"properties"')) ||
        typeof schema['pattern'] === 'string';
      if (isWorthAName && !path.endsWith('/properties')) {
        const text = JSON.stringify(schema);
        places.set(text, [...(places.get(text) ?? []), path]);
      }
      for (const [key, part] of Object.entries(value)) walk(part, `${path}/${key}`);
    };
    walk(await read(), '');
    expect([...places.values()].filter((paths) => paths.length > 1)).toEqual([]);
    expect(places.size).toBeGreaterThan(250);
  });

  it('keep an operation short', async () => {
    const { text, body } = await api.request<Document>('GET', '/api/openapi.json');
    const operations = Object.values(body.paths).flatMap((item) => Object.values(item));
    const linesOf = (value: unknown) => JSON.stringify(value, null, 2).split('\n').length;
    const own = operations.reduce((sum, operation) => sum + linesOf(operation), 0);
    expect(own / operations.length).toBeLessThan(45);
    // with every field of every name, as the file is kept
    expect((await formatted(text)).split('\n').length / operations.length).toBeLessThan(60);
  });

  it('are JSON Schemas, each of them', async () => {
    const document = await read();
    const ajv = new Ajv2020({ strict: false, validateFormats: false });
    ajv.addSchema(document, 'api', false, false);
    for (const name of Object.keys(document.components['schemas']!))
      expect(() => ajv.compile({ $ref: `api#/components/schemas/${name}` }), name).not.toThrow();
  });

  it('mean one schema each', () => {
    const named = new NamedSchemas();
    named.convert(z.object({ a: z.string() }).meta({ id: 'Once' }), 'output');
    named.convert(z.object({ a: z.string() }).meta({ id: 'Once' }), 'output');
    expect(() => named.convert(z.object({ a: z.int() }).meta({ id: 'Once' }), 'output')).toThrow('the id Once');
  });

  it('tell what is sent from what is answered only where the two differ', () => {
    const inner = z.strictObject({ many: z.int().default(1) }).meta({ id: 'Inner' });
    const outer = z.strictObject({ inner }).meta({ id: 'Outer' });
    const plain = z.strictObject({ day: z.string().nullable() }).meta({ id: 'Plain' });
    const named = new NamedSchemas();
    const made = [outer, plain].flatMap((schema) => [named.convert(schema, 'input'), named.convert(schema, 'output')]);
    const { value, schemas } = named.settle(made);
    expect(value.map((schema) => (schema as { $ref: string }).$ref.split('/').at(-1))).toEqual([
      'OuterInput',
      'Outer',
      'Plain',
      'Plain',
    ]);
    expect(Object.keys(schemas)).toEqual(
      expect.arrayContaining(['Inner', 'InnerInput', 'Outer', 'OuterInput', 'Plain']),
    );
    expect(Object.keys(schemas)).not.toContain('PlainInput');
    expect(schemas['OuterInput']).toMatchObject({
      properties: { inner: { $ref: '#/components/schemas/InnerInput' } },
    });
  });
});

describe('the linter of descriptions', () => {
  it('finds nothing, not even to warn of', async () => {
    const { stdout } = await promisify(execFile)(
      'node_modules/.bin/redocly',
      ['lint', 'src/openapi.json', '--format=json', '--config=redocly.yaml'],
      {
        env: { ...process.env, REDOCLY_TELEMETRY: 'off', REDOCLY_SUPPRESS_UPDATE_NOTICE: 'true' },
        maxBuffer: 100_000_000,
      },
    ).catch((refused: { stdout: string }) => refused);
    const { totals, problems } = JSON.parse(stdout.slice(stdout.indexOf('{'))) as Linted;
    expect(problems.map(({ ruleId, message }) => `${ruleId}: ${message}`)).toEqual([]);
    expect(totals).toMatchObject({ errors: 0, warnings: 0 });
    const settings = readFileSync('redocly.yaml', 'utf8').match(/^ {2}\S+: off$/gm);
    expect(settings).toEqual(['  security-defined: off']);
  });
});

describe('the page of the API', () => {
  it('leads from every name to what it stands for', async () => {
    const { text } = await api.request('GET', '/api/docs');
    const ids = new Set([...text.matchAll(/ id="([^"]+)"/g)].map(([, id]) => id));
    const links = [...text.matchAll(/href="#([^"]+)"/g)].map(([, id]) => id);
    expect(links.length).toBeGreaterThan(1000);
    expect([...new Set(links)].filter((id) => !ids.has(id))).toEqual([]);
    expect(text).not.toContain('undefined');
    expect(text).not.toContain('\u0001');
    expect(text).toContain('header Idempotency-Key?');
  });

  it('shows every route and asks nobody else for anything', async () => {
    const page = await api.request('GET', '/api/docs');
    expect(page).toMatchObject({ status: 200, headers: { 'content-type': 'text/html; charset=utf-8' } });
    for (const path of Object.keys((await read()).paths)) expect(page.text).toContain(path);
    expect(page.text).not.toMatch(/(?:src|href)="(?:https?:)?\/\//);
    expect(page.text).not.toContain('<script');
    const style = /href="(\/api\/[^"]+\.css)"/.exec(page.text)![1]!;
    expect(await api.request('GET', style)).toMatchObject({
      status: 200,
      headers: { 'content-type': 'text/css; charset=utf-8' },
    });
  });
});

function resolve(document: Document, ref: string): unknown {
  return ref
    .slice(2)
    .split('/')
    .reduce<unknown>((node, key) => (node as Record<string, unknown> | undefined)?.[key], document);
}
