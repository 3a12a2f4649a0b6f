import { randomBytes } from 'node:crypto';
import { existsSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fullDiskOf } from '../disk-full.js';
import { StartProblem } from '../start-problem.js';
import { endPostmaster } from './ending.js';
import { commandLineOf, lives, run, withoutPgVariables } from './processes.js';
import type { PostgresRunner } from './runner.js';

/** The superuser of the embedded server. */
export const OWNER = 'lotwright';

/** Throws StartProblem when the programs do not run here, or the data was made by another major version. */
export async function refuseOtherVersion(runner: PostgresRunner): Promise<void> {
  const { file, args, options } = runner.command('postgres', ['--version']);
  const { code, output } = await run(file, args, options);
  const own = /\(PostgreSQL\) (\d+)/.exec(output)?.[1];
  if (code !== 0 || own === undefined) {
    throw new StartProblem(
      `The embedded PostgreSQL cannot run here (${output.split('\n')[0]}). Set DATABASE_URL to use a PostgreSQL of your own.`,
    );
  }
  const mark = join(runner.data, 'PG_VERSION');
  if (!existsSync(mark)) return;
  const found = readFileSync(mark, 'utf8').trim();
  if (found === own) return;
  const mend = Number(found) > Number(own) ? 'Update this Lotwright' : 'Run the Lotwright it was made with';
  throw new StartProblem(
    `The data in ${runner.data} was made by PostgreSQL ${found}, this Lotwright brings PostgreSQL ${own}. ${mend}, or choose another folder with LOTWRIGHT_HOME.`,
  );
}

/** Which process serves, or served, this data, and on which port. */
export function postmasterOf(data: string): { pid: number; port: number } | undefined {
  try {
    const lines = readFileSync(join(data, 'postmaster.pid'), 'utf8').split('\n');
    return { pid: Number(lines[0]), port: Number(lines[3]) };
  } catch {
    return undefined;
  }
}

/**
 * Called with the home locked, so a server that still runs on this data has lost its Lotwright and is stopped. A
 * process that only goes by the same id by chance is left alone, and its id is no longer taken for a running server.
 */
export async function stopOrphan({ data }: PostgresRunner): Promise<void> {
  const pid = postmasterOf(data)?.pid;
  if (pid === undefined || !Number.isInteger(pid) || pid <= 0) return;
  const isOurs = () => lives(pid) && (process.platform === 'win32' || commandLineOf(pid).includes(data));
  if (!isOurs()) {
    rmSync(join(data, 'postmaster.pid'), { force: true });
    return;
  }
  if (!(await endPostmaster(pid, isOurs)))
    throw new StartProblem(`A PostgreSQL left behind on ${data} (process ${pid}) does not stop. Stop it.`);
}

const HALF_MADE = 'data.new-';

/** What is still being written to is left for the next time. */
function removeHalfMade(folder: string): void {
  for (const name of readdirSync(folder).filter((each) => each.startsWith(HALF_MADE))) {
    try {
      rmSync(join(folder, name), { recursive: true, force: true });
    } catch {
      continue;
    }
  }
}

/** initdb into a folder beside the data, renamed when it is whole: a start killed half way leaves nothing half made. */
export async function makeCluster(
  runner: PostgresRunner,
  password: string,
  settings: Record<string, string>,
): Promise<void> {
  if (existsSync(runner.data) && readdirSync(runner.data).length > 0) {
    throw new StartProblem(`${runner.data} holds something that is no database. Move it, or choose another folder.`);
  }
  const folder = dirname(runner.data);
  removeHalfMade(folder);
  // a name of its own each time: the initdb of a start that was killed may still be writing to the last one
  const half = join(folder, `${HALF_MADE}${randomBytes(4).toString('hex')}`);
  const secret = join(folder, 'data.secret');
  // its own copy, because the server may run as another user who cannot read the one in the home
  writeFileSync(secret, password, { mode: 0o600 });
  await runner.own(secret);
  const args = ['-D', half, '-U', OWNER, '-A', 'scram-sha-256', `--pwfile=${secret}`, '--encoding=UTF8'];
  // PostgreSQL's own C.UTF-8, which sorts the same on every system and needs no locale installed
  args.push('--locale=C', '--locale-provider=builtin', '--builtin-locale=C.UTF-8');
  if (settings['fsync'] === 'off') args.push('--no-sync');
  const command = runner.command('initdb', args);
  const { code, output } = await run(command.file, command.args, { ...command.options, env: withoutPgVariables() });
  rmSync(secret, { force: true });
  if (code !== 0) {
    const full = fullDiskOf(folder);
    throw new StartProblem(
      full
        ? `Cannot make a database in ${runner.data}, because ${full}. Free some space, then start again.`
        : `Cannot make a database in ${runner.data}: ${/error: .*/.exec(output)?.[0] ?? output}`,
    );
  }
  renameSync(half, runner.data);
}
