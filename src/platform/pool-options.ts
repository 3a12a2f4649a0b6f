import { Client, types } from 'pg';
import type { ClientConfig } from 'pg';
import type { PostgresDataSourceOptions } from 'typeorm/driver/postgres/PostgresDataSourceOptions.js';

const POOL_MAX = 10;
const CONNECT_MS_MAX = 10_000;
/** A connection that is made anew knows no table and has no plan yet, which a page after a short pause would wait for. */
const IDLE_MS_MAX = 10 * 60_000;

const INT8 = 20;
const DATE = 1082;
const DATE_ARRAY = 1182;
const INT8_ARRAY = 1016;

/**
 * A pool listens to a connection only while nobody has it, and whoever takes it begins to listen a moment later: one that is
 * cut meanwhile would be an error nobody heard, which ends the process. The next statement on it says so to whoever asks.
 */
export class HeardClient extends Client {
  constructor(config?: string | ClientConfig) {
    super(config);
    this.on('error', () => {});
  }
}

/**
 * How every connection of the server reads and behaves: int8 as a JS number (loudly not, if it is no safe integer),
 * date as its text, sessions in UTC.
 */
export function poolOptions(url: string): PostgresDataSourceOptions {
  return {
    type: 'postgres',
    poolSize: POOL_MAX,
    applicationName: 'lotwright',
    extra: {
      connectionString: url,
      connectionTimeoutMillis: CONNECT_MS_MAX,
      idleTimeoutMillis: IDLE_MS_MAX,
      types: { getTypeParser },
      Client: HeardClient,
    },
  };
}

/** As pg has it, for any number: types of our own have numbers it does not list. */
const usual = types as { getTypeParser(oid: number, format?: 'text' | 'binary'): unknown };

function getTypeParser(oid: number, format?: 'text' | 'binary'): unknown {
  if (format !== 'binary') {
    if (oid === INT8) return readInt8;
    if (oid === DATE) return (text: string) => text;
    if (oid === INT8_ARRAY) return (text: string) => readArray(text).map((part) => part && readInt8(part));
    if (oid === DATE_ARRAY) return readArray;
  }
  return usual.getTypeParser(oid, format);
}

/** A one-dimensional array of numbers or days, whose elements PostgreSQL never quotes. */
function readArray(text: string): (string | null)[] {
  const inner = text.slice(1, -1);
  return inner === '' ? [] : inner.split(',').map((part) => (part === 'NULL' ? null : part));
}

function readInt8(text: string): number {
  const value = Number(text);
  if (!Number.isSafeInteger(value)) throw new RangeError(`${text} is past what a number holds exactly`);
  return value;
}
