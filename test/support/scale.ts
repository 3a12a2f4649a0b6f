/** Whether what is random or long is run at length: `npm run proofs`. Everything else is a sample of it. */
const isAtLength = process.env['LOTWRIGHT_PROOFS'] === '1';

/** Whether the tests judge mutants of the arithmetic, thousands of times over: `npm run mutants`. */
export const isForMutants = process.env['LOTWRIGHT_MUTANTS'] === '1';
const OF_A_SAMPLE = 1 / 5;

/** How often, how many or how long: so many among the tests, so many among the proofs, and few beside mutants. */
export const runs = (sample: number, whole: number): number =>
  isForMutants ? Math.ceil(sample * OF_A_SAMPLE) : isAtLength ? whole : sample;

/** How long a test with a larger version may take, in milliseconds: an hour among the proofs. */
export const patience = (sample: number): number => (isAtLength ? 3_600_000 : sample);
