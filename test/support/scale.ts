/** Whether what is random or long is run at length: `npm run proofs`. Everything else is a sample of it. */
const isAtLength = process.env['LOTWRIGHT_PROOFS'] === '1';

/** How often, how many or how long: so many among the tests, so many among the proofs. */
export const runs = (sample: number, whole: number): number => (isAtLength ? whole : sample);

/** How long a test with a larger version may take, in milliseconds: an hour among the proofs. */
export const patience = (sample: number): number => runs(sample, 3_600_000);
