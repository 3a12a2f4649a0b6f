import { resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { StartProblem } from '../src/platform/start-problem.js';

/** One file and perhaps a flag, as they were written at the terminal; undefined where help was asked for. Throws StartProblem. */
export function readFileArgument(usage: string, flag: string): { file: string; isFlagged: boolean } | undefined {
  const option = { type: 'boolean', default: false } as const;
  let parsed;
  try {
    parsed = parseArgs({ options: { [flag]: option, help: option }, allowPositionals: true });
  } catch (error) {
    throw new StartProblem(`${(error as Error).message}\n\n${usage}`);
  }
  const { values, positionals } = parsed;
  if (values['help']) return undefined;
  const [file, ...more] = positionals;
  if (file === undefined || more.length > 0) throw new StartProblem(usage);
  // npm changes the folder; a person means the one he is in
  return { file: resolve(process.env['INIT_CWD'] ?? '.', file), isFlagged: values[flag] === true };
}
