import { spawnSync } from 'node:child_process';

/** For tests that start whole processes: the programs as they are made for those who run them. */
export default function build(): void {
  const { status, stderr } = spawnSync(process.execPath, ['scripts/build.mjs'], { encoding: 'utf8' });
  if (status !== 0) throw new Error(`the build fails: ${stderr}`);
}
