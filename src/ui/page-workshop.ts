import { AsyncLocalStorage } from 'node:async_hooks';

/** What every page and message says of the workshop, or writes its amounts by. */
export interface PageWorkshop {
  name: string;
  /** IANA time zone. */
  timeZone: string;
  /** ISO 4217. */
  currency: string;
  /** us: ounces and pounds stand beside grams. */
  units: 'metric' | 'us';
  /** The smallest step its scale shows, in milligrams: no amount is written finer. */
  scaleStep: number;
  isDemo: boolean;
}

const held = new AsyncLocalStorage<PageWorkshop>();

/** The workshop whose page is being drawn: its name stands above it, and its units are those of every weight. */
export const pageWorkshop = (): PageWorkshop | undefined => held.getStore();

/** Draws a page of this workshop: all that `draw` calls, at once or later, finds it by `pageWorkshop`. */
export const drawFor = <T>(workshop: PageWorkshop, draw: () => T): T => held.run(workshop, draw);
