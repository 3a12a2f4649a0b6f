import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { PROJECT_FOLDER } from './project-folder.js';

/** Of this Lotwright, as package.json says it: three numbers. */
export const VERSION = (JSON.parse(readFileSync(join(PROJECT_FOLDER, 'package.json'), 'utf8')) as { version: string })
  .version;

/** Whether one version is later than another; the same is not. */
export function isNewer(version: string, than: string): boolean {
  const [left, right] = [version, than].map((text) => text.split('.').map(Number));
  const at = left!.findIndex((number, index) => number !== right![index]);
  return at >= 0 && left![at]! > right![at]!;
}

/** `New in 0.2.0: ...`, in the words of the first entry of CHANGELOG.md. */
export function newsLine(): string {
  const [, version, summary] = /^## (\S+)\n\n([^\n]+)/m.exec(
    readFileSync(join(PROJECT_FOLDER, 'CHANGELOG.md'), 'utf8'),
  )!;
  return `New in ${version}: ${summary}`;
}
