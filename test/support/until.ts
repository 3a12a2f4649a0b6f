const MS_MAX = 80_000;

/** Waits for what `look` answers to be what is asked for. Throws what it last was when that takes too long. */
export async function until<T>(look: () => T | Promise<T>, isSo: (found: T) => boolean, msMax = MS_MAX): Promise<T> {
  const deadline = Date.now() + msMax;
  for (;;) {
    const found = await look();
    if (isSo(found)) return found;
    if (Date.now() > deadline) throw new Error(`never came to be so: ${JSON.stringify(found).slice(0, 2000)}`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}
