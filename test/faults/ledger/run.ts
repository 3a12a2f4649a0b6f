import { setTimeout as pause } from 'node:timers/promises';
import { startServerProcess } from '../../support/server-process.js';
import { seeded } from '../../support/workshop.js';
import { checkOperations, namesIn } from './check.js';
import type { Outcome } from './check.js';
import { emptyTally, perform, Wire } from './client.js';
import type { Tally } from './client.js';
import { Installation } from './installation.js';
import type { Arrangement, Victim } from './installation.js';
import { Journal, readJournal, sha256 } from './journal.js';
import type { Entry } from './journal.js';
import type { Operation } from './operation.js';
import { openWorkshop } from './workshop.js';
import { World } from './world.js';

export interface Size {
  arrangement: Arrangement;
  seed: number;
  operations: number;
  clients: number;
  kills: number;
  lots: number;
  /** How many acknowledged operations are asked once more at the end. */
  replays: number;
}

export interface Figures extends Outcome {
  size: Size;
  tally: Tally;
  kills: Record<Victim, number>;
  /** Of the run between the first and the last operation, what was down included. */
  seconds: number;
  settings: Record<string, string>;
  violations: Record<string, unknown>[];
  /** What `npm run verify` ended with, and said. */
  verified: { code: number; output: string };
  /** Asked once more at the end, and answered otherwise than at first. */
  replayed: number;
  otherAnswers: string[];
  lots: number;
  orders: number;
  batches: number;
}

const VICTIMS: Victim[] = ['server', 'database', 'both'];
const JITTER_MS = 300;
const SAFE_SETTINGS = ['fsync', 'synchronous_commit', 'full_page_writes'];

/** Runs the clients against an installation in which things are killed, and looks afterwards whether all is there. */
export async function runLedger(size: Size): Promise<Figures> {
  const installation = new Installation(size.arrangement);
  const wire = new Wire(installation);
  try {
    await installation.start();
    const settings = await safetySettings(installation);
    const shelf = await openWorkshop(wire, installation.today, size.lots);
    const world = new World(wire, installation.today, shelf);
    await world.look();
    const journal = new Journal(installation.fileFor('journal'));
    const tally = emptyTally();
    const kills: Figures['kills'] = { server: 0, database: 0, both: 0 };
    const started = performance.now();
    const run = { size, wire, world, journal, tally, isOver: false };
    const clients = Promise.all(Array.from({ length: size.clients }, (_, n) => runClient(run, n)));
    // a fault of one stops the others
    await Promise.all([clients, strikes(run, installation, kills)]).finally(() => (run.isOver = true));
    const seconds = (performance.now() - started) / 1000;
    journal.close();
    const entries = await readJournal(journal.path, namesIn);
    const outcome = await checkOperations(installation, entries);
    const again = await askAgain(size, wire, entries);
    const violations = await installation.query<Record<string, unknown>>('select * from ledger_violations()');
    const verified = await verify(installation);
    const counts = await sizes(installation);
    return { size, tally, kills, seconds, settings, violations, verified, ...outcome, ...again, ...counts };
  } finally {
    wire.close();
    await installation.remove();
  }
}

interface Run {
  size: Size;
  wire: Wire;
  world: World;
  journal: Journal;
  tally: Tally;
  isOver: boolean;
}

/** One client: an operation at a time, and what follows of its answer at once. */
async function runClient(run: Run, n: number): Promise<void> {
  const { size, wire, world, journal, tally } = run;
  const pick = seeded(size.seed * 1000 + n);
  let followUp: Omit<Operation, 'id'> | undefined;
  for (let serial = 1; tally.operations < size.operations && !run.isOver; serial++) {
    const id = `s${size.seed}-c${n}-${serial}`;
    const operation: Operation = followUp ? { id, ...followUp } : world.next(id, pick);
    const answer = await perform(wire, journal, tally, operation);
    followUp = answer && (await world.learn(operation, answer));
  }
}

/** The kills, spread over the run at moments the seed and the clock decide. */
async function strikes(run: Run, installation: Installation, kills: Figures['kills']): Promise<void> {
  const { size, tally } = run;
  const pick = seeded(size.seed);
  for (let n = 0; n < size.kills; n++) {
    // never in the last tenth, so that the clients are at work again when it is over
    const at = ((n + pick(1000) / 1000) / size.kills) * size.operations * 0.9;
    while (tally.operations < at) {
      if (run.isOver) return;
      await pause(5);
    }
    await pause(pick(JITTER_MS));
    const victim = VICTIMS[n % VICTIMS.length]!;
    await installation.strike(victim, pick(2) === 0 ? 'SIGKILL' : 'SIGQUIT');
    kills[victim]++;
  }
}

/** As both the owner and the application's role see them. */
async function safetySettings(installation: Installation): Promise<Record<string, string>> {
  const rows = await installation.query<{ name: string; setting: string; overridden: boolean }>(
    `select name, setting, exists (select from pg_db_role_setting, unnest(setconfig) as set
       where set like name || '=%') as overridden from pg_settings where name = any($1::text[]) order by name`,
    [SAFE_SETTINGS],
  );
  return Object.fromEntries(rows.map(({ name, setting, overridden }) => [name, overridden ? 'overridden' : setting]));
}

/** Some acknowledged operations once more under their keys: the first answer again, and nothing done. */
async function askAgain(
  { seed, replays, clients }: Size,
  wire: Wire,
  entries: Map<string, Entry>,
): Promise<Pick<Figures, 'replayed' | 'otherAnswers'>> {
  const pick = seeded(seed + 1);
  const done = [...entries.values()].filter(({ answer }) => answer !== undefined && answer.status < 400);
  const chosen = done.filter(() => pick(done.length) < replays);
  const otherAnswers: string[] = [];
  let next = 0;
  const ask = async (): Promise<void> => {
    for (let entry = chosen[next++]; entry; entry = chosen[next++]) {
      const answer = await wire.post(entry.operation);
      const isSame = answer.status === entry.answer!.status && sha256(answer.text) === entry.answer!.sha256;
      if (!answer.isReplay || !isSame)
        otherAnswers.push(`${entry.operation.id} (${entry.operation.kind}): ${answer.status} ${answer.text}`);
    }
  };
  await Promise.all(Array.from({ length: clients }, ask));
  return { replayed: chosen.length, otherAnswers };
}

/** As a person would, from the terminal, while the server runs. */
async function verify(installation: Installation): Promise<Figures['verified']> {
  const program = ['dist/scripts/verify.js'];
  const { ended, output } = startServerProcess({ env: installation.environment(), program });
  return { code: await ended, output: output().trim() };
}

async function sizes(installation: Installation): Promise<Pick<Figures, 'lots' | 'orders' | 'batches'>> {
  const [row] = await installation.query<Record<'lots' | 'orders' | 'batches', number>>(
    `select (select count(*) from lot)::int as lots, (select count(*) from customer_order)::int as orders,
       (select count(*) from batch)::int as batches`,
  );
  return row!;
}
