import { spawnSync } from 'node:child_process';
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';

const SOURCES = ['src', 'migrations', 'scripts', 'test'];
/** Written whenever the compiler has written anything else. */
const MARK = 'dist/.typecheck.tsbuildinfo';

/** For tests that start whole processes: builds once a run, and not at all where the type check has just done so. */
export default function build(): void {
  if (isNewer()) return;
  const { status, stdout } = spawnSync('npm', ['run', '-s', 'typecheck'], { encoding: 'utf8' });
  if (status !== 0) throw new Error(`the build fails: ${stdout}`);
}

function isNewer(): boolean {
  const built = statSync(MARK, { throwIfNoEntry: false })?.mtimeMs ?? 0;
  return SOURCES.every((folder) =>
    readdirSync(folder, { recursive: true, encoding: 'utf8' })
      .filter((name) => /\.tsx?$/.test(name))
      .every((name) => statSync(join(folder, name)).mtimeMs < built),
  );
}
