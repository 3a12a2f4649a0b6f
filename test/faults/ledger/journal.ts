import { createHash } from 'node:crypto';
import { closeSync, createReadStream, fsyncSync, openSync, writeSync } from 'node:fs';
import { createInterface } from 'node:readline';
import type { Answer, Kind, Operation } from './operation.js';

/**
 * What was asked and what was answered, one line each, in a file. A request is written down before it is sent and its
 * final answer after it came: what the file calls answered, the server acknowledged. The file outlives what is killed,
 * because its writer is not killed; each line is handed to the system before the request leaves.
 */
export class Journal {
  private readonly file: number;

  constructor(readonly path: string) {
    this.file = openSync(path, 'ax', 0o600);
  }

  asked(operation: Operation): void {
    this.write({ asked: operation });
  }

  answered({ id }: Operation, { status, text }: Answer): void {
    this.write({ answered: id, status, text });
  }

  close(): void {
    fsyncSync(this.file);
    closeSync(this.file);
  }

  private write(line: Line): void {
    writeSync(this.file, `${JSON.stringify(line)}\n`);
  }
}

type Line = { asked: Operation } | { answered: string; status: number; text: string };

export interface Entry {
  operation: Operation;
  /** Undefined where no answer ever came. */
  answer?: { status: number; body: Record<string, unknown>; sha256: string };
}

/** Everything that was asked, by id, with its answer. Throws where the journal contradicts itself. */
export async function readJournal(path: string, wanted: (kind: Kind, body: Body) => Body): Promise<Map<string, Entry>> {
  const entries = new Map<string, Entry>();
  for await (const text of createInterface({ input: createReadStream(path) })) {
    const line = JSON.parse(text) as Line;
    if ('asked' in line) {
      if (entries.has(line.asked.id)) throw new Error(`${line.asked.id} was asked twice under one key`);
      entries.set(line.asked.id, { operation: line.asked });
      continue;
    }
    const entry = entries.get(line.answered);
    if (!entry || entry.answer) throw new Error(`${line.answered} was answered, but not asked once`);
    const body = wanted(entry.operation.kind, JSON.parse(line.text || '{}') as Body);
    entry.answer = { status: line.status, body, sha256: sha256(line.text) };
  }
  return entries;
}

type Body = Record<string, unknown>;

export const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');
