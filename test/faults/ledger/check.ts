import type { Installation } from './installation.js';
import type { Entry } from './journal.js';
import type { Kind } from './operation.js';
import { BEFORE } from './workshop.js';

/** Rows an operation left behind, by table: their ids in order. */
type Rows = Record<string, number[]>;

/** What the rows of one operation must be: these ids, or so many. */
type Expected = Record<string, number[] | number>;

export interface Outcome {
  acknowledged: number;
  refused: number;
  unanswered: number;
  /** Acknowledged, but not or not wholly there. */
  lost: string[];
  /** There more often than asked: twice, though refused, or asked by nobody. */
  doubled: string[];
}

type Body = Record<string, unknown>;

/** The part of an answer that names what was done: an answer may be long, and a run has many. */
export function namesIn(kind: Kind, body: Body): Body {
  switch (kind) {
    case 'set-aside':
      return { id: body['id'] };
    case 'weigh':
      return { movements: body['movements'], foundMore: body['foundMore'] };
    case 'ship':
      return {
        id: body['id'],
        movements: (body['lines'] as { movements: number[] }[] | undefined)?.flatMap(({ movements }) => movements),
      };
    case 'count':
      return {
        id: body['id'],
        movements: (body['lots'] as { movement: number | null }[] | undefined)
          ?.map(({ movement }) => movement)
          .filter((id) => id !== null),
      };
    case 'scrap':
      return { movements: [body['movement']] };
    case 'commit':
      return { batches: (body['batches'] as unknown[] | undefined)?.length, reservations: body['reservations'] };
    default:
      return {};
  }
}

/** What an acknowledged act of this kind leaves behind. Nothing else, in no table, may bear its id. */
function expectedOf(kind: Kind, body: Body): Expected {
  const movements = body['movements'] as number[];
  switch (kind) {
    case 'receive':
      return { lot: 1, movement: 1 };
    case 'set-aside':
      return { reservation: [body['id'] as number] };
    case 'free':
      return {};
    case 'weigh':
      // what was found beyond the book is an entry before the weighed ones
      return { movement: (body['foundMore'] as number) > 0 ? movements.length + 1 : movements };
    case 'ship':
      return { shipment: [body['id'] as number], movement: movements };
    case 'count':
      return { shelf_count: [body['id'] as number], movement: movements };
    case 'scrap':
      return { movement: movements };
    case 'hold':
    case 'release':
      return { 'lot state': 1 };
    case 'order':
      return { customer_order: 1 };
    case 'draft':
      return {};
    case 'commit':
      return { 'run state': 1, batch: body['batches'] as number, reservation: body['reservations'] as number };
  }
}

const ROWS = `
  select by, what, json_agg(id order by id) as ids from (
    select created_by as by, 'lot' as what, id from lot
    union all select created_by, 'movement', id from movement
    union all select created_by, 'reservation', id from reservation
    union all select created_by, 'shipment', id from shipment
    union all select created_by, 'shelf_count', id from shelf_count
    union all select created_by, 'customer_order', id from customer_order
    union all select created_by, 'batch', id from batch
    union all select done_by, subject || ' state', id from state_change where subject in ('lot', 'run')
  ) made
  group by by, what`;

/**
 * Looks up every operation of the journal by what it left behind. Acknowledged: exactly the rows its answer names.
 * Refused: none. Never answered: none, or one act's.
 */
export async function checkOperations(installation: Installation, journal: Map<string, Entry>): Promise<Outcome> {
  const rows = await rowsByOperation(installation);
  const outcome: Outcome = { acknowledged: 0, refused: 0, unanswered: 0, lost: [], doubled: [] };
  for (const by of rows.keys()) if (!journal.has(by) && by !== BEFORE) outcome.doubled.push(`${by}: nobody asked`);
  for (const [id, { operation, answer }] of journal) {
    const found = rows.get(id) ?? {};
    if (answer === undefined) {
      outcome.unanswered++;
      const twice = Object.entries(found).filter(([table, ids]) => table !== 'movement' && ids.length > 1);
      if (operation.kind !== 'commit' && twice.length > 0) outcome.doubled.push(`${id}: ${JSON.stringify(found)}`);
      continue;
    }
    const isDone = answer.status < 400;
    outcome[isDone ? 'acknowledged' : 'refused']++;
    compare(id, operation.kind, isDone ? expectedOf(operation.kind, answer.body) : {}, found, outcome);
  }
  return outcome;
}

function compare(id: string, kind: Kind, expected: Expected, found: Rows, outcome: Outcome): void {
  for (const table of new Set([...Object.keys(expected), ...Object.keys(found)])) {
    const ids = found[table] ?? [];
    const named = expected[table] ?? [];
    const isSame = typeof named === 'number' ? ids.length === named : String(ids) === String([...named].sort(byNumber));
    if (isSame) continue;
    const count = typeof named === 'number' ? named : named.length;
    const what = `${id} (${kind}): ${table} ${JSON.stringify(ids)}, acknowledged ${JSON.stringify(named)}`;
    outcome[ids.length > count ? 'doubled' : 'lost'].push(what);
  }
}

async function rowsByOperation(installation: Installation): Promise<Map<string, Rows>> {
  const all = new Map<string, Rows>();
  for (const { by, what, ids } of await installation.query<{ by: string; what: string; ids: number[] }>(ROWS))
    all.set(by, { ...all.get(by), [what]: ids });
  return all;
}

const byNumber = (a: number, b: number): number => a - b;
