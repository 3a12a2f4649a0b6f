/** Longer than any answer, or a job that is under way, should take; what is still open then is cut off. */
const SHUTDOWN_MS_MAX = 15_000;

/**
 * Resolves at the first Ctrl-C, or when the system or the closing terminal asks the process to end. One asked again
 * after a second ends it at once; the same Ctrl-C reaches us twice under npm, which passes on what it gets.
 */
export function stopSignal(): Promise<'asked'> {
  return new Promise((resolve) => {
    let askedAt: number | undefined;
    const ask = () => {
      if (askedAt !== undefined && Date.now() - askedAt > 1000) process.exit(130);
      askedAt ??= Date.now();
      resolve('asked');
    };
    for (const name of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(name, ask);
  });
}

/** Waits for an ending, but not for ever. */
export async function withinTime(work: Promise<void> | undefined): Promise<void> {
  const timer = new Promise<void>((resolve) => setTimeout(resolve, SHUTDOWN_MS_MAX).unref());
  await Promise.race([work, timer]);
}

/**
 * For a process that works the queue, whose library listens to a connection only a moment after it has it: one that is cut
 * meanwhile is heard by nobody, and would end the process. Whoever asks next on it is told, and the embedded server says
 * itself when it is gone. Anything else unheard of ends the process as ever.
 */
export function outliveCutConnections(): void {
  process.on('uncaughtException', (error: Error & { code?: string }) => {
    if (/^57P0[123]$/.test(error.code ?? '') || error.message === 'Connection terminated unexpectedly') return;
    console.error(error);
    process.exit(1);
  });
}
