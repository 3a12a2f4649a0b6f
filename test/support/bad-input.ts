import { expect } from 'vitest';
import type { Answer, TestApp } from './app.js';

const NUL = 'a\u0000b';
const WRONG: unknown[] = [
  null,
  true,
  [],
  {},
  '',
  'x',
  -1,
  1.5,
  1e308,
  9_007_199_254_740_993,
  [{}],
  'y'.repeat(100_000),
];

/** Every place in a JSON value that holds something, as a path of keys. */
function placesIn(value: unknown, path: string[] = []): string[][] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, part]) => [[...path, key], ...placesIn(part, [...path, key])]);
}

function replaced(value: unknown, [key, ...rest]: string[], by: unknown): unknown {
  const copy = (Array.isArray(value) ? [...value] : { ...(value as object) }) as Record<string, unknown>;
  if (rest.length === 0 && by === undefined) delete copy[key!];
  else copy[key!] = rest.length === 0 ? by : replaced(copy[key!], rest, by);
  return copy;
}

function expectProblem(answer: Answer<Record<string, unknown>>, what: string): void {
  expect(answer.status, `${what}: ${answer.text.slice(0, 300)}`).toBeGreaterThanOrEqual(400);
  expect(answer.status, `${what}: ${answer.text.slice(0, 300)}`).toBeLessThan(500);
  expect(answer.headers['content-type'], what).toContain('application/problem+json');
  expect(answer.body.status, what).toBe(answer.status);
  expect(answer.body.title, what).toEqual(expect.any(String));
}

/**
 * Sends `body`, which is right, in many wrong ways. An unknown field, a NUL, a body that is no object, broken JSON and
 * ten megabytes are always refused; a value of another type or size may happen to be allowed, but is never a 5xx.
 */
export async function expectBadInputRefused(app: TestApp, method: string, url: string, body: object): Promise<void> {
  const send = (sent: unknown) => app.request(method, url, sent);
  for (const path of placesIn(body)) {
    const at = `${method} ${url} /${path.join('/')}`;
    for (const wrong of WRONG) {
      const answer = await send(replaced(body, path, wrong));
      if (answer.status >= 300) expectProblem(answer, `${at} = ${JSON.stringify(wrong).slice(0, 40)}`);
    }
    const missing = await send(replaced(body, path, undefined));
    if (missing.status >= 300) expectProblem(missing, `${at} missing`);
    const held = path.reduce<unknown>((value, key) => (value as Record<string, unknown>)[key], body);
    if (typeof held === 'string') expectProblem(await send(replaced(body, path, NUL)), `${at} with NUL`);
    if (typeof held === 'object' && !Array.isArray(held))
      expectProblem(await send(replaced(body, [...path, 'surprise'], 1)), `${at} with an unknown field`);
  }
  expectProblem(await send({ ...body, surprise: 1 }), `${method} ${url} with an unknown field`);
  expectProblem(await send({ ...body, ['__proto__x']: NUL }), `${method} ${url} with an odd field`);
  for (const whole of [[], [body], null, 7]) expectProblem(await send(whole), `${method} ${url} with ${String(whole)}`);
  const json = { 'content-type': 'application/json' };
  for (const text of ['', '{', '{"a":', 'null', '"text"'])
    expectProblem(await app.request(method, url, text, json), `${method} ${url} with ${text}`);
  const huge = JSON.stringify({ ...body, filler: 'z'.repeat(10 * 1024 * 1024) });
  const answer = await app.request(method, url, huge, json);
  expectProblem(answer, `${method} ${url} with ten megabytes`);
  expect(answer.status).toBe(413);
}
