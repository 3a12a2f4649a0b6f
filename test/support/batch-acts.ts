import { expect } from 'vitest';
import type { BatchView } from '../../src/bench/bench.schema.js';
import type { TestApp } from './app.js';
import type { Bench } from './bench.js';
import { benchOf } from './bench.js';

/** Weighs everything a batch still lacks from the lots set aside for it; what is on after the rest only once it rests. */
export async function weighAll(bench: Bench, code: string): Promise<BatchView> {
  let batch = await bench.batch(code);
  const isResting = batch.status === 'resting';
  for (const { position, step, stocked, weighed, quantity, done, reserved, reworkLot } of batch.inputs) {
    const isAfterRest = step === 'pack' && batch.readyOn > batch.day;
    if (done || !stocked || isAfterRest !== isResting) continue;
    const takes = reworkLot === null ? reserved.map((take) => [take.source, take.quantity] as const) : [];
    if (reworkLot !== null) takes.push([reworkLot, quantity - weighed]);
    expect(takes.length, `line ${position} of ${code} has nothing set aside`).toBeGreaterThan(0);
    for (const [lot, amount] of takes)
      batch = (await bench.weigh(code, position, lot, amount, { further: true })).batch;
  }
  return batch;
}

/** Weighs, closes at what its sheet means to make, checks and releases a batch; answers the lot it made. */
export async function carry(bench: Bench, code: string): Promise<string> {
  const { output } = await weighAll(bench, code);
  const { lot, batch } = await bench.finish(code, output, { lossReason: 'as it goes' });
  if (batch.readyOn > batch.day) await weighAll(bench, code);
  await bench.check(code);
  await bench.release(code, { why: 'needed' });
  return lot;
}

/** Batches of a committed demonstration closed, released, rejected and mended, a leftover and a label after the rest. */
export async function liveBatches(app: TestApp): Promise<void> {
  const bench = benchOf(app);
  for (const item of ['BASE-WAX', 'BLK-CA-AMBER', 'CA-AMBER-220']) await carry(bench, await bench.batchOf(item));
  const rejected = await bench.batchOf('BLK-SP-FIG');
  const { output } = await weighAll(bench, rejected);
  const { lot } = await bench.finish(rejected, output - 1000, {
    lossReason: 'some left in the jar',
    leftovers: [{ position: 1, quantity: '1 g' }],
  });
  await bench.reject(rejected, { why: 'hazy', forRework: true });
  const mended = await bench.done<BatchView>(`/api/lots/${lot}/rework-batch`, { why: 'filtered' });
  await carry(bench, mended.code);
}
