import type { CallSite } from './call-sites.js';
import { bodyOf } from './function-bodies.js';
import type { DatabaseFunction } from './function-bodies.js';
import { tablesOf } from './statement-tables.js';
import type { TablesOfStatement } from './statement-tables.js';

/** One thing done to one table, or one function called. */
export interface Use {
  /** A file of the sources or a function of the database. */
  in: string;
  line?: number;
  room: string;
  does: 'reads' | 'writes' | 'makes' | 'calls';
  of: string;
}

export interface Owners {
  /** The rooms, first to last; what stands on all of them is called `application`. */
  rooms: readonly string[];
  tables: Readonly<Record<string, string>>;
  functions: Readonly<Record<string, string>>;
}

/** Methods of the library by what they do to the table of their entity. */
const READING = new Set(['find', 'findBy', 'findOne', 'findOneBy', 'findOneOrFail', 'findOneByOrFail', 'findAndCount']);
for (const method of ['count', 'countBy', 'exists', 'existsBy', 'maximum', 'minimum', 'sum', 'average'])
  READING.add(method);
const WRITING = new Set(['insert', 'update', 'delete', 'save', 'upsert', 'remove', 'increment', 'decrement', 'clear']);
/** A builder starts with its entity and goes on with conditions, in which no other table may stand. */
const BUILDING = new Set(['where', 'andWhere', 'orWhere', 'orderBy', 'addOrderBy', 'limit', 'addSelect', 'select']);
for (const method of ['createQueryBuilder', 'getMany', 'getOne', 'getCount']) BUILDING.add(method);

/** What a place in the sources does, or a sentence why nobody can tell. */
export function usesOf(site: CallSite, room: string): { uses: Use[]; unread: string[] } {
  const at = { in: site.path, line: site.line, room };
  const where = `${site.path}:${site.line}`;
  if (site.method === 'query') {
    if (!site.texts) return { uses: [], unread: [`${where} sends SQL that is known only when it runs`] };
    const read = site.texts.map((text) => tablesOf(text));
    const unread = read.flatMap(({ unknown }) =>
      [...unknown].map((kind) => `${where} is a ${kind}, whose tables are not read`),
    );
    return { uses: read.flatMap((tables) => usesIn(tables, at)), unread };
  }
  const builder = BUILDING.has(site.method);
  const does = WRITING.has(site.method) ? 'writes' : READING.has(site.method) || builder ? 'reads' : undefined;
  if (!does) return { uses: [], unread: [`${where} calls ${site.method}, which is not known here`] };
  if (site.conditions.some((text) => /\b(select|from|join)\b/i.test(text)))
    return { uses: [], unread: [`${where} has SQL of its own in a condition`] };
  if (site.tables.length === 0 && !(builder && site.method !== 'createQueryBuilder'))
    return { uses: [], unread: [`${where} calls ${site.method} on no entity that is known`] };
  return { uses: site.tables.map((of) => ({ ...at, does, of })), unread: [] };
}

/** What a function of the database does; text that is put together inside it cannot be read. */
export function usesOfFunction(made: DatabaseFunction, room: string): { uses: Use[]; unread: string[] } {
  const { statements, dynamic } = bodyOf(made);
  const at = { in: made.name, room };
  const read = statements.map((text) => tablesOf(text));
  return {
    uses: read.flatMap((tables) => usesIn(tables, at)),
    unread: [
      ...dynamic.map((text) => `${made.name} puts a statement together: ${text}`),
      ...read.flatMap(({ unknown }) =>
        [...unknown].map((kind) => `${made.name} has a ${kind}, whose tables are not read`),
      ),
    ],
  };
}

function usesIn(tables: TablesOfStatement, at: Omit<Use, 'does' | 'of'>): Use[] {
  const all = (does: Use['does'], names: Iterable<string>) => [...names].map((of) => ({ ...at, does, of }));
  return [
    ...all('writes', tables.writes),
    ...all('makes', tables.makes),
    ...all(
      'reads',
      [...tables.reads].filter((name) => !tables.writes.has(name)),
    ),
    ...all('calls', tables.calls),
  ];
}

/** Every use that breaks the rule, as itself and in a sentence. */
export function violations(uses: readonly Use[], owners: Owners): (Use & { sentence: string })[] {
  return uses.flatMap((use) => {
    const sentence = sentenceOf(use, owners);
    return sentence === undefined ? [] : [{ ...use, sentence }];
  });
}

function sentenceOf(
  { in: place, line, room, does, of }: Use,
  { rooms, tables, functions }: Owners,
): string | undefined {
  const where = `${place}${line === undefined ? '' : `:${line}`} (${room}) ${does} ${of}`;
  // the server's own catalogue and functions belong to nobody
  if (/^(pg_catalog|information_schema)\.|^pg_/.test(of)) return undefined;
  const owner = does === 'calls' ? functions[of] : (tables[of] ?? (of.startsWith('jobs.') ? 'platform' : undefined));
  if (owner === undefined) return does === 'calls' ? undefined : `${where}, which has no owner`;
  if (does === 'writes' || does === 'makes') return owner === room ? undefined : `${where}, which only ${owner} writes`;
  return levelOf(owner, rooms) <= levelOf(room, rooms) ? undefined : `${where}, which belongs to ${owner} further down`;
}

function levelOf(room: string, rooms: readonly string[]): number {
  const index = rooms.indexOf(room);
  return index < 0 ? rooms.length : index;
}
