/** A reason not to start that the person at the terminal can act on: its message is printed as the only line. */
export class StartProblem extends Error {
  override name = 'StartProblem';
}
