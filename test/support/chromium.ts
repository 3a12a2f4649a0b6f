import { existsSync } from 'node:fs';
import { installFirst } from './packages.js';

/** What draws no window of its own comes first: the same pages cost it a quarter less. */
const CANDIDATES = [
  process.env['CHROMIUM'] ?? '',
  '/usr/bin/chromium-headless-shell',
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
];

/** The Chromium of this machine, if it has one. */
export const findChromium = (): string | undefined => CANDIDATES.find((path) => path !== '' && existsSync(path));

/** Once before all files: where there is none and it may be, Debian's is installed. */
export function provideChromium(): void {
  if (!findChromium()) installFirst('chromium-headless-shell', 'chromium');
}
