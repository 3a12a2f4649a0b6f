import { existsSync, readdirSync, readFileSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { rolldown } from 'rolldown';

/**
 * Makes the programs in dist/, and nothing where they are newer than what they are made of. Types are not checked here.
 * Each program is a few large files instead of 1,800 small ones, which a start would look for one by one.
 */
const PROGRAMS = [
  'src/main',
  'src/planner',
  'src/worker',
  'scripts/backup',
  'scripts/plan',
  'scripts/restore',
  'scripts/verify',
  'test/bench/bench',
  'test/bench/parts',
  'test/faults/ledger/main',
  'test/faults/messages/main',
];
const SOURCES = ['src', 'migrations', 'scripts', 'test', 'package-lock.json', 'tsconfig.json'];
const MARK = 'dist/.built';

/** Reads its own files from beside itself. */
const WITH_FILES = ['pdfkit', 'piscina'];

const { devDependencies, optionalDependencies } = JSON.parse(readFileSync('package.json', 'utf8'));
const APART = new Set([...Object.keys({ ...devDependencies, ...optionalDependencies }), ...WITH_FILES]);
/**
 * The bridge of Nest asks the package itself for two exports that TypeORM 1 no longer has, which would load all of it a
 * second time beside what is bundled.
 */
const ONE_TYPEORM = {
  name: 'one-typeorm',
  /** @param {string} _code @param {string} id */
  transform: (_code, id) =>
    id.endsWith('@nestjs/typeorm/dist/common/typeorm-compat.js')
      ? 'export const Connection = undefined; export const AbstractRepository = undefined;'
      : undefined,
};

/** @param {string} id */
const packageOf = (id) => /^(?:@[^/]+\/)?[^/]+/.exec(id)?.[0] ?? '';

function isBuilt() {
  if (!existsSync(MARK)) return false;
  const { mtimeMs } = statSync(MARK);
  return filesOf(SOURCES).every((path) => statSync(path).mtimeMs < mtimeMs);
}

/** @param {string[]} paths */
const filesOf = (paths) =>
  paths.flatMap((path) =>
    statSync(path).isFile()
      ? [path]
      : readdirSync(path, { recursive: true, encoding: 'utf8' })
          .filter((name) => /\.(tsx?|mjs)$/.test(name))
          .map((name) => join(path, name)),
  );

async function build() {
  const began = new Date();
  const bundle = await rolldown({
    input: Object.fromEntries(PROGRAMS.map((name) => [name, `${name}.ts`])),
    platform: 'node',
    tsconfig: './tsconfig.json',
    external: (id) => APART.has(packageOf(id)),
    plugins: [ONE_TYPEORM],
    onLog(level, log, otherwise) {
      // what a package asks for and does without where it is not there
      const isOptional = log.code === 'UNRESOLVED_IMPORT' && log.id?.includes('node_modules');
      if (!isOptional) otherwise(level === 'warn' ? 'error' : level, log);
    },
  });
  await bundle.write({
    dir: 'dist',
    format: 'esm',
    sourcemap: true,
    // each start reads the maps: they name lines, and the sources are beside them
    sourcemapExcludeSources: true,
    // less to read at a start, by a fifth; a fault still tells the names of what it passed
    minify: { compress: false, mangle: false, codegen: { removeWhitespace: true } },
    // Nest, TypeORM and the log call classes by their names
    keepNames: true,
    // no hash: a server that runs while the same is built again still finds what it loads late
    chunkFileNames: 'parts/[name].js',
  });
  writeFileSync(MARK, '');
  // a source that changes from now on is newer
  utimesSync(MARK, began, began);
}

if (!isBuilt()) await build();
