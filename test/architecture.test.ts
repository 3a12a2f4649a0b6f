import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { describe, expect, it } from 'vitest';
import { ROOMS } from './support/rooms.js';

/** The settings lie beside the rooms but belong to the platform. */
const SETTINGS = ['config.ts', 'config.js'];
const FORBIDDEN_FOLDERS = new Set(['utils', 'helpers', 'common', 'shared']);
const LINES_MAX = 400;

/** The types of the API, which a test makes of its description. */
const GENERATED = 'test/client/api.ts';

interface Source {
  /** Path from the root of the project. */
  path: string;
  text: string;
}

/** Everything that breaks the order of the rooms, in sentences; empty when the order holds. */
function violations(sources: readonly Source[]): string[] {
  return sources.flatMap(({ path, text }) => [
    ...folderViolations(path),
    ...(text.split('\n').length > LINES_MAX + 1 ? [`${path} is longer than ${LINES_MAX} lines`] : []),
    ...importsOf(text).flatMap((imported) => importViolations(path, imported)),
  ]);
}

function folderViolations(path: string): string[] {
  const folders = path.split('/').slice(0, -1);
  const bad = folders.filter((folder) => FORBIDDEN_FOLDERS.has(folder)).map((folder) => `${path} lies in ${folder}`);
  const [top, room] = folders;
  if (top === 'src' && room !== undefined && !ROOMS.includes(room))
    bad.push(`${path} lies in ${room}, which is no room`);
  return bad;
}

function importViolations(path: string, imported: string): string[] {
  if (!path.startsWith('src/')) return [];
  const from = placeOf(path);
  if (!imported.startsWith('.')) {
    return from.room === 'kernel' ? [`${path} imports ${imported}: the kernel stands on nothing`] : [];
  }
  const target = relative('.', resolve(dirname(path), imported));
  const to = placeOf(target);
  if (from.room === 'kernel' && to.room !== 'kernel')
    return [`${path} imports ${target}: the kernel stands on nothing`];
  if (from.room === 'pages' && to.room === 'pages' && !placeMayShow(path, target))
    return [`${path} imports ${target}: only what lies in a place's folder elsewhere/ is shown in others`];
  return to.level > from.level ? [`${path} imports ${target}, which is further down`] : [];
}

/**
 * A place that one goes to keeps its controllers, views and words to itself, but for the parts in its folder `elsewhere`:
 * those are shown in other places too. What lies in no place (the module of all pages) knows every one.
 */
function placeMayShow(path: string, target: string): boolean {
  const [from, to] = [path.split('/'), target.split('/')];
  return from.length < 4 || from[2] === to[2] || to[3] === 'elsewhere';
}

/** Where a file stands: the higher the level, the more it may import. */
function placeOf(path: string): { room: string; level: number } {
  const [top, second = '', third] = path.split('/');
  if (top !== 'src') return { room: top ?? '', level: ROOMS.indexOf('platform') };
  // main, worker and app.module stand on everything; nothing but they may import them
  if (third === undefined)
    return { room: '', level: SETTINGS.includes(second) ? ROOMS.indexOf('platform') : ROOMS.length };
  const index = ROOMS.indexOf(second);
  return { room: second, level: index < 0 ? ROOMS.length + 1 : index };
}

/** What a file imports, exports again or loads later, in whatever form it is written. */
function importsOf(text: string): string[] {
  const forms = [
    /^\s*(?:import|export)\b[^;'"]*?from\s*['"]([^'"]+)['"]/gm,
    /^\s*import\s*['"]([^'"]+)['"]/gm,
    /\bimport\(\s*['"]([^'"]+)['"]/g,
  ];
  return forms.flatMap((form) => [...text.matchAll(form)].map((match) => match[1]!));
}

function readSources(folder: string): Source[] {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .filter((path) => path !== GENERATED)
    .map((path) => ({ path, text: readFileSync(path, 'utf8') }));
}

/** Files that import each other in a circle, each circle once as its files in the order of the alphabet. */
function circles(sources: readonly Source[]): string[][] {
  const known = new Set(sources.map(({ path }) => path));
  const found = (path: string): string[] =>
    ['.ts', '.tsx'].map((ending) => path.replace(/\.js$/, ending)).filter((candidate) => known.has(candidate));
  const importedBy = new Map(
    sources.map(({ path, text }) => [
      path,
      importsOf(text).flatMap((imported) => found(relative('.', resolve(dirname(path), imported)))),
    ]),
  );
  const reach = new Map([...known].map((path) => [path, reachedFrom(path, importedBy)]));
  const inCircles = [...known].filter((path) => reach.get(path)!.has(path));
  const each = inCircles.map((path) =>
    inCircles.filter((other) => reach.get(path)!.has(other) && reach.get(other)!.has(path)),
  );
  return [...new Map(each.map((circle) => [circle.toSorted().join(), circle.toSorted()])).values()];
}

function reachedFrom(path: string, importedBy: ReadonlyMap<string, readonly string[]>): Set<string> {
  const reached = new Set<string>();
  const open = [...importedBy.get(path)!];
  for (let next = open.pop(); next !== undefined; next = open.pop()) {
    if (reached.has(next)) continue;
    reached.add(next);
    open.push(...importedBy.get(next)!);
  }
  return reached;
}

describe('the order of the rooms', () => {
  it('holds in every file', () => {
    const sources = ['src', 'migrations', 'scripts', 'test'].flatMap(readSources);
    expect(sources.length).toBeGreaterThan(20);
    expect(violations(sources)).toEqual([]);
  });

  it('lets no files import each other in a circle', () => {
    expect(circles(['src', 'migrations', 'scripts', 'test'].flatMap(readSources))).toEqual([]);
    const a = { path: 'src/stock/a.ts', text: `import type { B } from './b.js';` };
    const b = { path: 'src/stock/b.tsx', text: `import { c } from './c.js';` };
    const c = { path: 'src/stock/c.ts', text: `export { a } from './a.js';` };
    const d = { path: 'src/stock/d.ts', text: `import { a } from './a.js';` };
    expect(circles([a, b, c, d])).toEqual([[a.path, b.path, c.path]]);
    expect(circles([a, b, d])).toEqual([]);
  });

  const planted: [string, Source, string][] = [
    [
      'a room that imports one after it',
      { path: 'src/stock/a.ts', text: `import { x } from '../orders/b.js';` },
      'src/orders/b.js',
    ],
    ['a room that imports a page', { path: 'src/demo/a.ts', text: `import '../pages/b.js';` }, 'src/pages/b.js'],
    [
      'a type that is imported from further down',
      { path: 'src/catalog/a.ts', text: `import type {\n  X,\n} from '../stock/b.js';` },
      'src/stock/b.js',
    ],
    [
      'an export from further down',
      { path: 'src/catalog/a.ts', text: `export * from '../stock/b.js';` },
      'src/stock/b.js',
    ],
    [
      'an import that is made later',
      { path: 'src/catalog/a.ts', text: `await import('../stock/b.js');` },
      'src/stock/b.js',
    ],
    [
      'a room that imports the application',
      { path: 'src/pages/a.tsx', text: `import { A } from '../app.module.js';` },
      'src/app.module.js',
    ],
    [
      'a kernel that imports a package',
      { path: 'src/kernel/a.ts', text: `import { z } from 'zod';` },
      'stands on nothing',
    ],
    [
      'a kernel that imports the platform',
      { path: 'src/kernel/a.ts', text: `import '../platform/b.js';` },
      'stands on nothing',
    ],
    [
      'a kernel that reads the settings',
      { path: 'src/kernel/a.ts', text: `import '../config.js';` },
      'stands on nothing',
    ],
    [
      'a place that shows a part of another',
      { path: 'src/pages/week/a.tsx', text: `import { X } from '../orders/b.js';` },
      'src/pages/orders/b.js',
    ],
    [
      'a place that knows the module of all pages',
      { path: 'src/pages/week/a.tsx', text: `import { X } from '../pages.module.js';` },
      'src/pages/pages.module.js',
    ],
    [
      'an interface that knows a room',
      { path: 'src/ui/a.tsx', text: `import { X } from '../catalog/b.js';` },
      'src/catalog/b.js',
    ],
    ['a folder for odds and ends', { path: 'src/stock/utils/a.ts', text: '' }, 'utils'],
    ['a folder that is no room', { path: 'src/stuff/a.ts', text: '' }, 'no room'],
    ['a file that is too long', { path: 'test/a.ts', text: '\n'.repeat(LINES_MAX + 1) }, 'longer'],
  ];
  it.each(planted)('refuses %s', (_, source, named) => {
    expect(violations([source])).toEqual([expect.stringContaining(named)]);
  });

  const allowed: [string, Source][] = [
    ['an import from a room before', { path: 'src/orders/a.ts', text: `import { x } from '../stock/b.js';` }],
    ['the settings in the platform', { path: 'src/platform/a.ts', text: `import { x } from '../config.js';` }],
    [
      'the migrations in the platform',
      { path: 'src/platform/a.ts', text: `import { x } from '../../migrations/0001.js';` },
    ],
    ['every room in the application', { path: 'src/app.module.ts', text: `import { x } from './pages/b.js';` }],
    ['a file of 400 lines', { path: 'src/stock/a.ts', text: '\n'.repeat(LINES_MAX) }],
    [
      'a part that is shown elsewhere too',
      { path: 'src/pages/week/a.tsx', text: `import { X } from '../orders/elsewhere/b.js';` },
    ],
    ['a kernel file in another', { path: 'src/kernel/a.ts', text: `import { x } from './b.js';` }],
  ];
  it.each(allowed)('allows %s', (_, source) => {
    expect(violations([source])).toEqual([]);
  });
});

describe('DEVELOPERS.md', () => {
  const text = readFileSync('DEVELOPERS.md', 'utf8');

  /** Paths of the tree that is drawn there, two spaces a level; folders end in a slash. */
  const drawn: string[] = [];
  const above: string[] = [];
  for (const line of text.split('```')[1]!.trim().split('\n')) {
    const [, indent, name] = /^( *)(\S+)/.exec(line)!;
    above.splice(indent!.length / 2, Infinity, name!);
    drawn.push(above.join(''));
  }

  const entries = (folder: string): string[] =>
    readdirSync(folder, { withFileTypes: true }).map(
      (entry) => join(folder, entry.name) + (entry.isDirectory() ? '/' : ''),
    );

  it('draws the tree that is there', () => {
    const folders = (folder: string) => entries(folder).filter((entry) => entry.endsWith('/'));
    const there = [
      'src/',
      'migrations/',
      'scripts/',
      'mutants/',
      'test/',
      ...entries('src'),
      ...['src/kernel', 'src/pages', 'migrations', 'test'].flatMap(folders),
    ];
    expect(drawn.toSorted()).toEqual(there.toSorted());
    const rooms = drawn.filter((path) => /^src\/[^/]+\/$/.test(path)).map((path) => path.split('/')[1]);
    expect(rooms).toEqual(ROOMS);
  });

  it('leads an order through files that are there, forward only', () => {
    const steps = [...text.matchAll(/^\d+\. `(src\/([^/]+)\/[^`]+)`/gm)];
    expect(steps.length).toBeGreaterThan(10);
    for (const [, path] of steps) expect(readFileSync(path!, 'utf8').length).toBeGreaterThan(0);
    const levels = steps.map(([, , room]) => ROOMS.indexOf(room!));
    expect(levels).toEqual(levels.toSorted((a, b) => a - b));
  });
});
