import { resolve } from 'node:path';
import ts from 'typescript';

/** The sources of the application as the compiler sees them, made once a process. */
let made: ts.Program | undefined;

export function sourceProgram(): ts.Program {
  return (made ??= programOf(ts.sys.readDirectory(resolve('src'), ['.ts', '.tsx'])));
}

/** Texts as if they were files of the project, for a test that plants them; what they import is found from their paths. */
export function programWith(texts: readonly (readonly [path: string, text: string])[]): ts.Program {
  const planted = new Map(texts.map(([path, text]) => [resolve(path), text]));
  return programOf([...planted.keys()], planted);
}

function programOf(rootNames: readonly string[], planted = new Map<string, string>()): ts.Program {
  const { config } = ts.readConfigFile('tsconfig.json', ts.sys.readFile) as { config: unknown };
  const { options } = ts.parseJsonConfigFileContent(config, ts.sys, resolve('.'));
  const host = ts.createCompilerHost({ ...options, incremental: false });
  const { getSourceFile, fileExists, readFile } = host;
  host.readFile = (name) => planted.get(name) ?? readFile.call(host, name);
  host.fileExists = (name) => planted.has(name) || fileExists.call(host, name);
  host.getSourceFile = (name, version, ...rest) => {
    const text = planted.get(name);
    return text === undefined
      ? kept(name, () => getSourceFile.call(host, name, version, ...rest))
      : ts.createSourceFile(name, text, version, true);
  };
  return ts.createProgram(
    [...rootNames],
    { ...options, incremental: false, tsBuildInfoFile: undefined, noEmit: true },
    host,
  );
}

/** A file is read once, whatever the number of programs: a planted one stands on the same libraries. */
const files = new Map<string, ts.SourceFile | undefined>();

function kept(name: string, read: () => ts.SourceFile | undefined): ts.SourceFile | undefined {
  if (!files.has(name)) files.set(name, read());
  return files.get(name);
}

export function ownSources(program: ts.Program): ts.SourceFile[] {
  const root = `${resolve('src')}/`;
  return program.getSourceFiles().filter((file) => file.fileName.startsWith(root));
}
