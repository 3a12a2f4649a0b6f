import type { TestApp } from './app.js';

const BROWSER = { accept: 'text/html' };
const FORM = { ...BROWSER, 'content-type': 'application/x-www-form-urlencoded' };

/** One field of a form, as its page shows it. */
export interface SeenField {
  name: string;
  value: string;
  kind: 'typed' | 'chosen' | 'ticked' | 'hidden';
}

/** A form that changes something, and the page it stands on. */
export interface SeenForm {
  page: string;
  action: string;
  fields: SeenField[];
}

const attribute = (tag: string, name: string): string | undefined => {
  const found = new RegExp(`\\s${name}="([^"]*)"`).exec(tag)?.[1];
  return found === undefined ? undefined : unescaped(found);
};

export const unescaped = (text: string): string =>
  text
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&quot;', '"')
    .replaceAll('&#34;', '"')
    .replaceAll('&#39;', "'")
    .replaceAll('&#x27;', "'")
    .replaceAll('&amp;', '&');

/** The words of a piece of a page, without tags. */
export const wordsOf = (html: string): string => unescaped(html.replaceAll(/<[^>]*>/g, ' ')).replaceAll(/\s+/g, ' ');

/** Every form of a page that is sent by POST. A file is chosen, not typed, so forms with one are left to their own tests. */
export function formsIn(html: string, page: string): SeenForm[] {
  return [...html.matchAll(/<form\b[^>]*method="post"[^>]*>.*?<\/form>/gs)].flatMap(([form]) => {
    const [opening = ''] = /<form\b[^>]*>/.exec(form) ?? [];
    if (opening.includes('multipart')) return [];
    return [{ page, action: attribute(opening, 'action') ?? page, fields: fieldsIn(form) }];
  });
}

export function fieldsIn(html: string): SeenField[] {
  const controls = html.matchAll(
    /<input\b(?:"[^"]*"|[^>"])*>|<textarea\b[^>]*>([^<]*)<\/textarea>|<select\b[^>]*>.*?<\/select>/gs,
  );
  return [...controls].flatMap(([control, text]): SeenField[] => {
    const name = attribute(control, 'name');
    if (name === undefined || name === 'once') return [];
    if (control.startsWith('<textarea')) return [{ name, value: unescaped(text ?? ''), kind: 'typed' }];
    if (control.startsWith('<select')) {
      const options = [...control.matchAll(/<option\b[^>]*>/g)].map(([option]) => option);
      const chosen = options.find((option) => /\sselected\b/.test(option)) ?? options[0] ?? '';
      return [{ name, value: attribute(chosen, 'value') ?? '', kind: 'chosen' }];
    }
    const type = attribute(control, 'type') ?? 'text';
    const value = attribute(control, 'value') ?? '';
    if (type === 'hidden') return [{ name, value, kind: 'hidden' }];
    if (type !== 'checkbox' && type !== 'radio') return [{ name, value, kind: 'typed' }];
    return /\schecked\b/.test(control) ? [{ name, value, kind: 'ticked' }] : [];
  });
}

/** Opens a page as a browser does. */
export const open = (app: TestApp, path: string) => app.request('GET', path, undefined, BROWSER);

/** Sends a form with one of its fields filled in otherwise. */
export function sendWith(app: TestApp, { action, fields }: SeenForm, name: string, value: string) {
  const filled = fields.map((field): [string, string] => [field.name, field.name === name ? value : field.value]);
  return app.request('POST', action, new URLSearchParams(filled).toString(), FORM);
}

/** A code, a number, a day: what differs between pages of one kind. */
const kindOf = (path: string): string => path.split('?')[0]!.replaceAll(/\/[^/]*[A-Z0-9][^/]*/g, '/~');

/** Walks from page to page by their links, so many of each kind, and answers every form once for each kind of page. */
export async function everyForm(app: TestApp, starts: readonly string[], ofAKind: number): Promise<SeenForm[]> {
  const forms = new Map<string, SeenForm>();
  const waiting = [...starts];
  const met = new Map<string, number>();
  const seen = new Set(waiting);
  for (let path = waiting.shift(); path !== undefined; path = waiting.shift()) {
    const { text, status, headers } = await open(app, path);
    if (status !== 200 || !String(headers['content-type']).includes('text/html')) continue;
    for (const form of formsIn(text, path)) {
      const names = form.fields.map(({ name }) => name.replaceAll(/\d+/g, '0').replace(/\..*/, '.~'));
      const key = `${kindOf(form.action)} ${[...new Set(names)].toSorted().join(' ')}`;
      if (!forms.has(key)) forms.set(key, form);
    }
    for (const [, link] of text.matchAll(/<a\b[^>]*href="(\/[^"#]*)/g)) {
      const next = unescaped(link!);
      const kind = kindOf(next);
      if (seen.has(next) || /^\/(api|assets|calendar|health)/.test(next) || (met.get(kind) ?? 0) >= ofAKind) continue;
      seen.add(next);
      met.set(kind, (met.get(kind) ?? 0) + 1);
      waiting.push(next);
    }
  }
  return [...forms.values()];
}
