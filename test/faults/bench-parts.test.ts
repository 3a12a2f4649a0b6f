import { expect, it } from 'vitest';
import { startServerProcess } from '../support/server-process.js';

/** One part throws, the pool of another reports an idle connection that was cut, a third rejects with nobody waiting. */
const PROGRAM = `
  import pg from 'pg';
  import { runParts } from './dist/test/bench/parts.js';
  const later = () => new Promise((resolve) => setTimeout(resolve, 50));
  const broken = await runParts(
    [
      ['first', () => ['one', 'two']],
      ['thrown', () => { throw new Error('no such table'); }],
      ['cut', async () => {
        const pool = new pg.Pool();
        setTimeout(() => pool.emit('error', new Error('terminating connection due to administrator command')));
        await later();
        return ['never seen'];
      }],
      ['stray', async () => { void Promise.reject(new Error('nobody waits')); await later(); return ['never seen']; }],
      ['last', async () => ['three']],
    ],
    (line) => console.log(line),
  );
  console.log('broken: ' + broken.join(', '));
`;

it('a part of the bench that breaks says so, and the next goes on', async () => {
  const bench = startServerProcess({ env: {}, program: ['--input-type=module', '--eval', PROGRAM] });
  expect(await bench.ended).toBe(0);
  expect(bench.output().trim().split('\n')).toEqual([
    'one',
    'two',
    'thrown broke: no such table',
    'cut broke: terminating connection due to administrator command',
    'stray broke: nobody waits',
    'three',
    'broken: thrown, cut, stray',
  ]);
});
