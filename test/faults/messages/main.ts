import { provideRedis } from '../../support/redis.js';
import { isWhole, printed, runMessages } from './run.js';

/**
 * The long run, on both backends of the queue. FAULTS_REMINDERS, FAULTS_MESSAGE_FAULTS and FAULTS_SEED change its size and
 * its choices. Exits 1 where a reminder was lost, shown twice, or sent under several ids.
 */
async function main(): Promise<void> {
  const setting = (name: string, usual: number): number => {
    const value = Number(process.env[name] ?? usual);
    if (!Number.isSafeInteger(value) || value < 1) throw new Error(`${name} must be a whole number`);
    return value;
  };
  const size = {
    reminders: setting('FAULTS_REMINDERS', 5000),
    faults: setting('FAULTS_MESSAGE_FAULTS', 16),
    seed: setting('FAULTS_SEED', 1),
    workers: 3,
  };
  provideRedis();
  for (const backend of ['postgres', 'redis'] as const) {
    const figures = await runMessages({ ...size, backend });
    if ('missing' in figures) {
      process.stdout.write(`Jobs on ${backend} were not tried: ${figures.missing}\n`);
      process.exitCode = 1;
    } else {
      process.stdout.write(`${printed(figures)}\n`);
      if (!isWhole(figures)) process.exitCode = 1;
    }
  }
}

await main();
