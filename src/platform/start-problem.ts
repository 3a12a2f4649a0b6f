/** A reason not to start that the person at the terminal can act on: its message is printed as the only line. */
export class StartProblem extends Error {
  override name = 'StartProblem';
}

/** Says at the terminal why a program ends: a reason to act on in one line, anything else with where it came from. */
export const sayWhy = (error: unknown): void => console.error(error instanceof StartProblem ? error.message : error);
