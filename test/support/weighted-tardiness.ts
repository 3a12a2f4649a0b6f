import { readFileSync } from 'node:fs';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { addDays } from '../../src/kernel/measure/day.js';
import { emptyWorkshop, formula, item, line } from './workshop.js';

const JOBS = 40;
const FOLDER = 'test/published/data/or-library';

/** Jobs that one machine takes one after the other; days and weights. */
export interface TardinessInstance {
  number: number;
  jobs: { processing: number; weight: number; due: number }[];
  /** The least sum of weight times days late; of one instance the best known. */
  best: number;
}

const numbersIn = (file: string): number[] => readFileSync(`${FOLDER}/${file}`, 'utf8').trim().split(/\s+/).map(Number);

/** The 125 instances of 40 jobs of OR-Library, with their published optima. */
export function tardinessInstances(): TardinessInstance[] {
  const figures = numbersIn('wt40.txt');
  return numbersIn('wtopt40.txt').map((best, index) => {
    const at = 3 * JOBS * index;
    const jobs = Array.from({ length: JOBS }, (_, job) => ({
      processing: figures[at + job]!,
      weight: figures[at + JOBS + job]!,
      due: figures[at + 2 * JOBS + job]!,
    }));
    return { number: index + 1, jobs, best };
  });
}

/**
 * An instance as a week of a workshop: each job is ordered once and made in the one vessel there is, which holds it for as
 * many days as it is processed. Made on the first day and processed for one, it is ready on the first day, which is when a
 * job that is due after one day has to be; so days late are tardiness. The bench is open each day and never full.
 */
export function tardinessWeek({ jobs }: TardinessInstance): Snapshot {
  const shop = emptyWorkshop();
  Object.assign(shop.workshop, { benchMinutes: [480, 480, 480, 480, 480, 480, 480], slackDays: 0 });
  shop.items.push(item('WAX', { stocked: false }));
  shop.vessels.push({ code: 'MACHINE', kind: 'machine', capacityMg: 1_000_000 });
  jobs.forEach(({ processing, weight, due }, n) => {
    const code = `JOB-${String(n + 1).padStart(2, '0')}`;
    shop.items.push(item(code, { kind: 'product', measure: 'counted' }));
    shop.formulas.push(
      formula(code, [line(1, 'WAX', 'each', 1_000)], {
        vesselKind: 'machine',
        batchMax: 1,
        minutesBatch: 1,
        restDays: processing - 1,
      }),
    );
    shop.lines.push({
      key: code,
      item: code,
      quantity: 1,
      shipBy: addDays(shop.today, due - 1),
      notBefore: null,
      weight,
    });
  });
  return shop;
}
