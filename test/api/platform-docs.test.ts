import { describe, expect, it } from 'vitest';
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

const read = async () => (await api.request<Document>('GET', '/api/openapi.json')).body;

describe('the description of the API', () => {
  it('is the one that is kept with the code', async () => {
    const { text, status } = await api.request('GET', '/api/openapi.json');
    expect(status).toBe(200);
    await expect(`${text}\n`).toMatchFileSnapshot('../../src/openapi.json');
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

describe('the page of the API', () => {
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
