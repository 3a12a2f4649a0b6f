import { beforeAll, describe, expect, it } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import {
  everyForm,
  fieldsIn,
  formsIn,
  open,
  type SeenField,
  type SeenForm,
  sendWith,
  wordsOf,
} from '../support/form-walk.js';
import { patience, runs } from '../support/scale.js';
import { seeded } from '../support/workshop.js';

const TODAY = '2026-11-25';
let app: TestApp;
beforeAll(async () => {
  app = await startTestApp({ today: TODAY, filled: DEMONSTRATION, isQuiet: true });
  return () => app.close();
});

/** What nobody means to write. */
const WRITTEN = [
  '',
  'wrong',
  '1e30',
  'x'.repeat(10_000),
  '1,5',
  '٣',
  'кг',
  '<b>',
  '🧼',
  '-1',
  '0.0000001',
  '2026-99-99',
];

/** What a program says to a program. */
const RAW = [
  /\bexpected (string|number|int|one of|array|boolean|object)\b/i,
  /\breceived (undefined|null|string|number|NaN)\b/i,
  /Invalid (input|option|string|ISO|email)/,
  /\bNaN\b/,
  /Key \(/,
  /\bviolates\b/,
  /(^|\s)\/\w[\w/]*:/,
  /\bundefined\b|\bnull\b/,
  /\bmust be\b/,
  /\b[a-z]+(_[a-z]+)+\b/,
  /\b(ppb|E4|Ppb)\b/,
  /\brule \w/,
  /\b\d{7,}\b/,
];

/** The notes of a page that was refused, and what is said at its fields. */
const saidIn = (html: string): string[] =>
  [...html.matchAll(/<(p|div|ul|li|span)\b[^>]*(?:role="alert"|class="fault")[^>]*>.*?<\/\1>/gs)].map(([part]) =>
    wordsOf(part).trim(),
  );

const same = (text: string): string => text.trim().toLowerCase();

/** What is wrong with the answer to a form of which one field was filled in so. */
function faultsOf(
  { status, text, type }: { status: number; text: string; type: string },
  field: SeenField,
  value: string,
): string[] {
  if (status >= 500) return [`is a ${status}`];
  if (status < 400) return [];
  const faults: string[] = [];
  if (!type.includes('text/html')) faults.push(`comes back as ${type}`);
  const said = saidIn(text);
  if (said.length === 0) faults.push('says nothing of what is wrong');
  for (const words of said) {
    const own = value === '' ? words : words.replaceAll(value, '');
    const raw = RAW.find((pattern) => pattern.test(own));
    if (raw) faults.push(`says "${words.slice(0, 160)}" (${raw.source})`);
  }
  const kept = fieldsIn(text).filter(({ name }) => name === field.name);
  if (field.kind === 'typed' && !kept.some((one) => same(one.value) === same(value)))
    faults.push(`does not keep what was typed (${said.join(' | ').slice(0, 160)})`);
  return faults;
}

describe('whatever is written into a form', () => {
  it(
    'comes back with it, and with words of what would be right',
    async () => {
      const pick = seeded(4_211);
      const places = [
        ...new Set([...(await open(app, '/orders')).text.matchAll(/<a href="(\/[a-z]+)"/g)].map((at) => at[1]!)),
      ];
      const forms = await everyForm(app, places, runs(2, 6));
      expect(forms.length).toBeGreaterThan(60);
      const faults: string[] = [];
      let refused = 0;
      for (const form of forms) {
        let isChanged = true;
        let now: SeenForm | undefined;
        for (const field of form.fields.filter(({ kind }) => kind === 'typed' || kind === 'chosen')) {
          const values = WRITTEN.map((value) => ({ value, rank: pick(1000) })).toSorted((a, b) => a.rank - b.rank);
          for (const { value } of values.slice(0, runs(1, WRITTEN.length))) {
            if (isChanged) now = await stillThere(form);
            if (!now) break;
            const { status, text, headers } = await sendWith(app, now, field.name, value);
            isChanged = status < 400;
            if (!isChanged) refused++;
            for (const fault of faultsOf({ status, text, type: String(headers['content-type']) }, field, value))
              faults.push(`${form.page} > ${form.action} ${field.name}=${value.slice(0, 12)}: ${status} ${fault}`);
          }
        }
      }
      expect(faults).toEqual([]);
      expect(refused).toBeGreaterThan(100);
    },
    patience(240_000),
  );
});

/** The form as its page shows it now: what was sent before may have changed it, or taken it away. */
async function stillThere(form: SeenForm): Promise<SeenForm | undefined> {
  const { text, status } = await open(app, form.page);
  if (status !== 200) return undefined;
  const names = (one: SeenForm) => one.fields.map(({ name }) => name).join(' ');
  const now = formsIn(text, form.page).filter(({ action }) => action === form.action);
  return now.find((one) => names(one) === names(form)) ?? now[0];
}
