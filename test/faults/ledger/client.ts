import { Agent, request } from 'node:http';
import { setTimeout as pause } from 'node:timers/promises';
import type { Journal } from './journal.js';
import type { Answer, Operation } from './operation.js';
import { codeOf } from './operation.js';

const ANSWER_MS_MAX = 30_000;
const TRIES_MAX = 200;
const PAUSE_MS = 25;
const PAUSE_MS_MAX = 1000;

/** What came of all requests together. */
export interface Tally {
  operations: number;
  byKind: Record<string, number>;
  /** Requests sent again because no answer, or no final one, came. */
  retries: number;
  /** Answers the server gave from memory, because it had done the act before. */
  replays: number;
  /** Final refusals, by status and code. */
  refusals: Record<string, number>;
  /** Refusals that ask to be tried again. */
  passing: Record<string, number>;
  /** Answers that say the program is at fault; there must be none. */
  faults: string[];
  /** Operations nobody ever answered; there should be none. */
  unanswered: number;
}

export const emptyTally = (): Tally => ({
  operations: 0,
  byKind: {},
  retries: 0,
  replays: 0,
  refusals: {},
  passing: {},
  faults: [],
  unanswered: 0,
});

/** Where the server is now; it may be nowhere for a while. */
export interface Address {
  /** Waits, within bounds, until a server is there. */
  current(): Promise<string>;
}

/** HTTP connections that are kept, as a browser or a shop's own program keeps them. */
export class Wire {
  private readonly agent = new Agent({ keepAlive: true, maxSockets: 256 });

  constructor(private readonly address: Address) {}

  /** One request, one answer; rejects where none comes. */
  async send(method: 'GET' | 'POST', path: string, headers: Record<string, string>, body?: unknown): Promise<Answer> {
    const url = new URL(path, await this.address.current());
    const payload = body === undefined ? '' : JSON.stringify(body);
    return new Promise((resolve, reject) => {
      const sent = request(
        url,
        {
          method,
          agent: this.agent,
          timeout: ANSWER_MS_MAX,
          headers: { ...headers, ...(body !== undefined && { 'content-type': 'application/json' }) },
        },
        (response) => {
          const chunks: Buffer[] = [];
          response.on('data', (chunk: Buffer) => chunks.push(chunk));
          response.on('error', reject);
          response.on('end', () => {
            if (!response.complete) return reject(new Error('the answer was cut off'));
            const text = Buffer.concat(chunks).toString();
            const isReplay = response.headers['idempotency-hit'] === 'true';
            resolve({ status: response.statusCode!, text, body: readJson(text), isReplay });
          });
        },
      );
      sent.on('timeout', () => sent.destroy(new Error('no answer in time')));
      sent.on('error', reject);
      sent.end(payload);
    });
  }

  post({ id, path, body }: Operation): Promise<Answer> {
    return this.send('POST', path, { 'Idempotency-Key': `"${id}"`, 'Lotwright-Person': id }, body);
  }

  async get<Body>(path: string): Promise<Body> {
    for (let tries = 1; ; tries++) {
      try {
        const answer = await this.send('GET', path, {});
        if (answer.status === 200) return answer.body as Body;
        if (tries === TRIES_MAX) throw new Error(`${path} answers ${answer.status} ${answer.text}`);
      } catch (error) {
        if (tries === TRIES_MAX) throw error;
      }
      await pause(Math.min(PAUSE_MS_MAX, PAUSE_MS * tries));
    }
  }

  close(): void {
    this.agent.destroy();
  }
}

function readJson(text: string): Record<string, unknown> {
  try {
    return JSON.parse(text) as Record<string, unknown>;
  } catch {
    return {};
  }
}

/** An answer that says how the act ended; anything else is asked again under the same key. */
function isFinal(answer: Answer): boolean {
  return answer.status < 500 && answer.status !== 408 && answer.status !== 429 && !isPassing(answer);
}

/** The twin of this request still runs, or others were in the way too often. */
function isPassing(answer: Answer): boolean {
  return answer.status === 409 && /^(try-again|still-running)$/.test(codeOf(answer));
}

/**
 * Sends one operation until it is answered, with the same key each time: the journal knows of it before the first try.
 * Answers undefined where the tries ran out.
 */
export async function perform(
  wire: Wire,
  journal: Journal,
  tally: Tally,
  operation: Operation,
): Promise<Answer | undefined> {
  journal.asked(operation);
  tally.operations++;
  tally.byKind[operation.kind] = (tally.byKind[operation.kind] ?? 0) + 1;
  for (let tries = 1; tries <= TRIES_MAX; tries++) {
    if (tries > 1) tally.retries++;
    const answer = await wire.post(operation).catch(() => undefined);
    if (answer && isFinal(answer)) {
      journal.answered(operation, answer);
      if (answer.isReplay) tally.replays++;
      if (answer.status >= 400) countUp(tally.refusals, `${answer.status} ${codeOf(answer)}`);
      return answer;
    }
    if (answer && isPassing(answer)) countUp(tally.passing, `${answer.status} ${codeOf(answer)}`);
    if (answer && answer.status >= 500 && answer.status !== 503)
      tally.faults.push(`${operation.kind} ${operation.path}: ${answer.status} ${answer.text.slice(0, 300)}`);
    await pause(Math.min(PAUSE_MS_MAX, PAUSE_MS * tries) * (0.5 + Math.random()));
  }
  tally.unanswered++;
  return undefined;
}

function countUp(counts: Record<string, number>, name: string): void {
  counts[name] = (counts[name] ?? 0) + 1;
}
