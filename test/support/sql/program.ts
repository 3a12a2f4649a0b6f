import { resolve } from 'node:path';
import ts from 'typescript';

const planted = new Map<string, string>();
let made: ts.Program | undefined;

/**
 * A text as if it were a file of a room, for a test that plants it; answers its path. The compiler reads all of them with the
 * sources, once a process, so they are planted before anybody asks for the program.
 */
export function plant(room: string, text: string): string {
  if (made) throw new Error('what is planted comes before the sources are read');
  const path = `src/${room}/planted-${planted.size}.ts`;
  planted.set(resolve(path), text);
  return path;
}

export function isPlanted(path: string): boolean {
  return planted.has(resolve(path));
}

/** The sources of the application as the compiler sees them, with what is planted. */
export function sourceProgram(): ts.Program {
  return (made ??= makeProgram());
}

function makeProgram(): ts.Program {
  const { config } = ts.readConfigFile('tsconfig.json', ts.sys.readFile) as { config: unknown };
  const parsed = ts.parseJsonConfigFileContent(config, ts.sys, resolve('.'));
  const options = { ...parsed.options, incremental: false, tsBuildInfoFile: undefined, noEmit: true };
  const host = ts.createCompilerHost(options);
  const { getSourceFile, fileExists, readFile } = host;
  host.readFile = (name) => planted.get(name) ?? readFile.call(host, name);
  host.fileExists = (name) => planted.has(name) || fileExists.call(host, name);
  host.getSourceFile = (name, version, ...rest) => {
    const text = planted.get(name);
    return text === undefined
      ? getSourceFile.call(host, name, version, ...rest)
      : ts.createSourceFile(name, text, version, true);
  };
  return ts.createProgram([...ts.sys.readDirectory(resolve('src'), ['.ts', '.tsx']), ...planted.keys()], options, host);
}

export function ownSources(program: ts.Program): ts.SourceFile[] {
  const root = `${resolve('src')}/`;
  return program.getSourceFiles().filter((file) => file.fileName.startsWith(root));
}
