import { configureGlobal } from 'fast-check';
import { runs } from './scale.js';

/**
 * The same cases each time among the tests, so that what fails today failed yesterday; others each time among the proofs,
 * where a failure says its seed.
 */
configureGlobal({ seed: runs(20_261_125, Date.now() % 2 ** 31), numRuns: runs(100, 5_000) });
