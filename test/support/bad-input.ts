import type { TestApp } from './app.js';

const NUL = 'a\u0000b';
const WRONG: unknown[] = [null, true, [], {}, '', 'x', -1, 1.5, 1e308, 2 ** 53 + 2, [{}], 'y'.repeat(100_000)];
const TEN_MEGABYTES = 10 * 1024 * 1024;

/**
 * Sends `body`, which is right, in many wrong ways, and answers what was wrong with the answers: nothing, if all is well.
 * An unknown field, a NUL, a body that is no object, broken JSON and ten megabytes must be refused; a value of another
 * type or size may happen to be allowed. Every refusal must be a 4xx problem.
 */
export async function faultsOnBadInput(app: TestApp, method: string, url: string, body: object): Promise<string[]> {
  const faults: string[] = [];
  const json = { 'content-type': 'application/json' };
  const send = async (what: string, text: string, mustRefuse: boolean) => {
    const answer = await app.request(method, url, text, json);
    if (answer.status < 300 && !mustRefuse) return;
    const isProblem =
      answer.status >= 400 &&
      answer.status < 500 &&
      String(answer.headers['content-type']).includes('application/problem+json') &&
      answer.body.status === answer.status &&
      typeof answer.body.title === 'string';
    if (!isProblem) faults.push(`${method} ${url} ${what}: ${answer.status} ${answer.text.slice(0, 200)}`);
  };
  for (const path of placesIn(body)) {
    const at = `/${path.join('/')}`;
    for (const wrong of WRONG)
      await send(`${at} as ${JSON.stringify(wrong).slice(0, 30)}`, JSON.stringify(replaced(body, path, wrong)), false);
    await send(`without ${at}`, JSON.stringify(replaced(body, path, undefined)), false);
    const held = path.reduce<unknown>((value, key) => (value as Record<string, unknown>)[key], body);
    if (typeof held === 'string') await send(`${at} with NUL`, JSON.stringify(replaced(body, path, NUL)), true);
    if (typeof held === 'object' && !Array.isArray(held))
      await send(`${at} with more`, JSON.stringify(replaced(body, [...path, 'surprise'], 1)), true);
  }
  await send('with an unknown field', JSON.stringify({ ...body, surprise: 1 }), true);
  for (const text of ['', '{', '{"a":', 'null', '7', '"text"', '[]', JSON.stringify([body])])
    await send(`with ${text.slice(0, 20)}`, text, true);
  await send('with ten megabytes', JSON.stringify({ ...body, filler: 'z'.repeat(TEN_MEGABYTES) }), true);
  return faults;
}

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
