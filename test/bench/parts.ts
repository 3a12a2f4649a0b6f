/** A part of the bench: its name, and what makes its rows. */
export type Part = [name: string, rows: () => readonly string[] | Promise<readonly string[]>];

/**
 * Prints the rows of each part as they come. One that breaks says so and the next goes on; so does whatever breaks without
 * anybody waiting for it, such as a connection that is cut, which counts against the part at work. Answers which broke.
 */
export async function runParts(parts: readonly Part[], print: (line: string) => void): Promise<string[]> {
  const broken: string[] = [];
  for (const [name, rows] of parts) {
    let cut: (error: unknown) => void = () => {};
    const stray = new Promise<never>((_, reject) => (cut = reject));
    process.on('uncaughtException', cut).on('unhandledRejection', cut);
    try {
      for (const row of await Promise.race([rows(), stray])) print(row);
    } catch (error) {
      broken.push(name);
      print(`${name} broke: ${error instanceof Error ? error.message : String(error)}`);
    } finally {
      process.off('uncaughtException', cut).off('unhandledRejection', cut);
    }
  }
  return broken;
}
