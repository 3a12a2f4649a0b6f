import { missingWords, takenWords } from './database-words.js';
import { DISK_FULL, isDiskFull } from './disk-full.js';
import { Problem } from './problem.js';
import { sqlStateOf } from './sql-state.js';

/** SQLSTATEs the ledger raises itself: what the request asked for is not possible now, with the reason in the message. */
const LEDGER: Record<string, { status: number; code: string }> = {
  LW001: { status: 404, code: 'not-found' },
  LW002: { status: 409, code: 'lot-not-released' },
  LW003: { status: 409, code: 'past-its-date' },
  LW004: { status: 409, code: 'reservation-mismatch' },
  LW005: { status: 409, code: 'not-enough' },
  LW006: { status: 409, code: 'correction-mismatch' },
  LW007: { status: 409, code: 'only-added-to' },
  LW008: { status: 409, code: 'wrong-state' },
  LW009: { status: 409, code: 'measure-in-use' },
  LW010: { status: 409, code: 'still-running' },
  LW011: { status: 409, code: 'changed-since' },
};

/** SQLSTATEs of PostgreSQL (its manual, appendix A) that the input or the machine can cause, with what to say of them. */
const STANDARD: Record<string, { status: number; code: string; detail: string }> = {
  '23505': { status: 409, code: 'already-exists', detail: 'This is there already' },
  '23P01': { status: 409, code: 'already-exists', detail: 'This overlaps with what is there already' },
  '23503': { status: 409, code: 'in-use', detail: 'This names something that is not there, or is still used' },
  '23514': { status: 422, code: 'out-of-range', detail: 'A value is outside what is allowed' },
  '22001': { status: 422, code: 'out-of-range', detail: 'A text is too long' },
  '22003': { status: 422, code: 'out-of-range', detail: 'A number is too large' },
  '22007': { status: 422, code: 'invalid', detail: 'A date or time is not valid' },
  '22008': { status: 422, code: 'out-of-range', detail: 'A date is outside what is allowed' },
  '22P02': { status: 422, code: 'invalid', detail: 'A value is not written as it is meant' },
  '22P05': { status: 422, code: 'invalid', detail: 'A text holds a character that cannot be kept' },
  '22021': { status: 422, code: 'invalid', detail: 'A text holds a character that cannot be kept' },
  '54000': { status: 422, code: 'out-of-range', detail: 'A value is too large' },
  '53200': {
    status: 503,
    code: 'out-of-memory',
    detail: 'The machine of the database has no memory free, so nothing was done. Try again later',
  },
  '55P03': { status: 409, code: 'try-again', detail: 'Somebody else is changing this' },
  '58030': {
    status: 503,
    code: 'disk-fault',
    detail: 'The disk of the database does not read or write as it should, so nothing was done. Look at the disk first',
  },
};

/** Classes and codes that say the database itself is not there: connection lost, shutting down, no connection free. */
const GONE = /^(08...|57P0[123]|53300)$/;
const GONE_SYSTEM = new Set(['ECONNREFUSED', 'ECONNRESET', 'EPIPE', 'ETIMEDOUT', 'ENOTFOUND']);
const GONE_MESSAGE = /^Connection terminated|timeout exceeded when trying to connect/;
/** What TypeORM says of a connection that broke between two statements of an act. */
const GONE_NAME = /^QueryRunner(Provider)?AlreadyReleasedError$/;

/** The problem an error of the database stands for, or undefined when it is a fault of the program. */
export function problemOfDatabase(error: unknown): Problem | undefined {
  if (isDiskFull(error)) return new Problem(DISK_FULL);
  const state = sqlStateOf(error);
  // EPIPE has five letters, as an SQLSTATE has
  if (state === undefined || GONE_SYSTEM.has(state)) return isGone(error) ? unavailable() : undefined;
  if (GONE.test(state)) return unavailable();
  const { message, detail, constraint } = raised(error);
  if (constraint === 'vessel_holds_one') return vesselTaken(detail);
  const own = LEDGER[state];
  if (own) return new Problem({ ...own, detail: sentence(message) });
  const standard = STANDARD[state];
  if (!standard) return undefined;
  const why = detail ?? (constraint && `rule ${constraint}`);
  return new Problem({
    ...standard,
    detail: sentence(why ? `${standard.detail}: ${why}` : standard.detail),
    ...onPages(state, detail, standard.detail),
  });
}

/** The same without the names of columns and rules. */
function onPages(state: string, detail: string | undefined, otherwise: string): { words: string; field?: string } {
  if (state === '23505') return takenWords(detail);
  if (state === '23503') return { words: missingWords(detail) };
  return { words: sentence(otherwise) };
}

/** In `vessel_holds_one` a vessel has so many numbers, of which each day since 1970 takes one. */
const DAYS_OF_A_VESSEL = 10_000_000;

/** Which days those are in whose way a batch stands is the last thing the database says: `... existing key (...)=([10020520,10020522)).` */
function vesselTaken(detail: string | undefined): Problem {
  const days = /\[(\d+),(\d+)\)\)\.?$/.exec(detail ?? '');
  const dayText = (number: number) => new Date((number % DAYS_OF_A_VESSEL) * 86_400_000).toISOString().slice(0, 10);
  const taken = days ? ` from ${dayText(Number(days[1]))} to ${dayText(Number(days[2]) - 1)}` : ' on those days';
  return new Problem({
    status: 409,
    code: 'vessel-taken',
    detail: `The vessel holds another batch${taken}, and holds one thing at a time.`,
  });
}

function isGone(error: unknown): boolean {
  if (!(error instanceof Error)) return false;
  return GONE_SYSTEM.has(raised(error).code ?? '') || GONE_MESSAGE.test(error.message) || GONE_NAME.test(error.name);
}

const unavailable = () =>
  new Problem({ status: 503, code: 'database-unavailable', detail: 'The database cannot be reached just now.' });

interface Raised {
  message: string;
  code?: string;
  detail?: string;
  constraint?: string;
}

/** TypeORM copies the fields of the error PostgreSQL raised onto its own. */
function raised(error: unknown): Raised {
  const { message, code, detail, constraint } = error as Raised & { detail?: unknown };
  // a failing row is printed whole in the detail of a check: that is no answer for the outside
  return { message, code, detail: detail?.startsWith('Key ') ? detail : undefined, constraint };
}

function sentence(text: string): string {
  const first = text.charAt(0).toUpperCase() + text.slice(1);
  return first.endsWith('.') ? first : `${first}.`;
}
