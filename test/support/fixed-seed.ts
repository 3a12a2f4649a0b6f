import { configureGlobal } from 'fast-check';
import { isForMutants, runs } from './scale.js';

/**
 * The same cases each time among the tests, so that what fails today failed yesterday; others each time among the proofs,
 * where a failure says its seed. Beside mutants the first failure is enough, and nobody wants the smallest.
 */
configureGlobal({
  seed: isForMutants ? 20_261_125 : runs(20_261_125, Date.now() % 2 ** 31),
  numRuns: runs(100, 5_000),
  endOnFailure: isForMutants,
});
