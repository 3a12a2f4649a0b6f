import type { SettingRow } from './notice-settings.service.js';
import type { Letter } from './outbox.service.js';

/** A notice as it goes out. */
export interface Notice {
  id: number;
  kind: string;
  title: string;
  detail: string;
  dueOn: string;
  /** From the root of the workshop's address, or with it where it is known. */
  link: string;
}

/** Everything a channel needs; the id is the same for every try. */
export interface Outgoing {
  id: string;
  workshop: string;
  notices: Notice[];
  letter: Letter | null;
  setting: SettingRow;
}
