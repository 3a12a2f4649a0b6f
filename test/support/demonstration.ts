import { readConfig } from '../../src/config.js';
import { loadDemoIfEmpty } from '../../src/terminal.js';
import type { Filling } from './app.js';

/** The invented workshop, as a first start loads it. */
export const DEMONSTRATION: Filling = {
  name: 'demonstration',
  by: ({ app }) => loadDemoIfEmpty(app, { ...readConfig({}), demo: true }),
};
