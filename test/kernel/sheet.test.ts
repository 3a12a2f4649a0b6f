import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { putInFor } from '../../src/kernel/measure/quantity.js';
import { batchMinutes, sheetFor } from '../../src/kernel/plan/sheet.js';
import type { SnapshotFormula, SnapshotWorkshop } from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

/** A scale of 100 mg that weighs from 500 mg. */
const { workshop } = emptyWorkshop();
const counted = new Set(['BOTTLE', 'LABEL', 'WICK']);
const sheet = (of: SnapshotFormula, output: number, scale: Partial<SnapshotWorkshop> = {}) =>
  sheetFor(of, output, (code) => item(code, { measure: counted.has(code) ? 'counted' : 'weighed' }), {
    ...workshop,
    ...scale,
  });

describe('the sheet of a poured batch', () => {
  const mix = formula(
    'BLK',
    [line(1, 'WATER', 'part', 899_000_000), line(2, 'SCENT', 'part', 100_000_000), line(3, 'DYE', 'part', 1_000_000)],
    { lossPpb: 50_000_000, residueMg: 9_500 },
  );

  it('puts in what comes out, what stays in the vessel and what is lost', () => {
    // (950 000 + 9 500) / 0.95 = 1 010 000 mg
    expect(sheet(mix, 950_000)).toEqual({
      putInMg: 1_010_000,
      amounts: [908_000, 101_000, 1_000],
      belowScale: [false, false, false],
    });
  });

  it('rounds the whole of it up to the scale and the lines so that they sum to it', () => {
    const { putInMg, amounts } = sheet(mix, 950_001);
    expect(putInMg).toBe(1_010_100);
    // exactly 908 079.9, 101 010 and 1 010.1: the largest remainder is the water's
    expect(amounts).toEqual([908_100, 101_000, 1_000]);
  });

  it('says which weights are too light for the scale', () => {
    expect(sheet(mix, 375_000).belowScale).toEqual([false, false, true]); // 404 800 put in, 400 of dye
    expect(sheet(mix, 465_500).amounts[2]).toBe(500);
    expect(sheet(mix, 465_500).belowScale[2]).toBe(false);
    const none = formula('BLK', [line(1, 'WATER', 'part', 1_000_000_000), line(2, 'DYE', 'part', 0)]);
    expect(sheet(none, 1_000)).toEqual({ putInMg: 1_000, amounts: [1_000, 0], belowScale: [false, false] });
  });

  it('keeps the order of the lines and leaves what is counted out of the weight', () => {
    const candle = formula(
      'CANDLE',
      [
        line(1, 'WICK', 'fixed', 3, 'fill'),
        line(2, 'WAX', 'part', 900_000_000),
        line(3, 'SALT', 'fixed', 700),
        line(4, 'SCENT', 'part', 100_000_000),
      ],
      { lossPpb: 100_000_000 },
    );
    // a tenth is lost of what is poured, nothing of what goes in as it is
    expect(sheet(candle, 9_000)).toEqual({
      putInMg: 10_700,
      amounts: [3, 9_000, 700, 1_000],
      belowScale: [false, false, false, false],
    });
  });
});

describe('the sheet of a filling', () => {
  const spray = formula(
    'SPRAY',
    [
      line(1, 'BULK', 'each', 95_000, 'fill'),
      line(2, 'BOTTLE', 'each', 1, 'fill'),
      line(3, 'LABEL', 'each', 2, 'pack'),
    ],
    { lossPpb: 20_000_000, residueMg: 1_000 },
  );

  it('grosses up what is weighed and not what is counted', () => {
    // (10 x 95 000 + 1 000) / 0.98 = 970 408.2
    expect(sheet(spray, 10)).toEqual({
      putInMg: 970_409,
      amounts: [970_409, 10, 20],
      belowScale: [false, false, false],
    });
  });

  it('refuses what cannot be counted or weighed', () => {
    expect(() => sheet(spray, Number.MAX_SAFE_INTEGER)).toThrow('SPRAY needs more BULK than can be counted');
    const much = formula('POT', [
      line(1, 'WATER', 'fixed', Number.MAX_SAFE_INTEGER),
      line(2, 'WAX', 'fixed', Number.MAX_SAFE_INTEGER),
    ]);
    expect(() => sheet(much, 1)).toThrow('a batch of POT is too large to weigh');
  });
});

it('sums to what is put in, in whole scale steps, whatever the parts, the loss and the scale', () => {
  fc.assert(
    fc.property(
      fc.record({
        parts: fc.array(fc.integer({ min: 1, max: 1_000_000 }), { minLength: 1, maxLength: 8 }),
        lossPpb: fc.nat(300_000_000),
        residueMg: fc.nat(50_000),
        output: fc.integer({ min: 1_000_000, max: 50_000_000_000 }),
        scaleStepMg: fc.constantFrom(1, 10, 100, 5_000),
      }),
      ({ parts, lossPpb, residueMg, output, scaleStepMg }) => {
        const sum = parts.reduce((a, b) => a + b, 0);
        const ppb = parts.map((part) => Math.floor((part / sum) * 1_000_000_000));
        ppb[0]! += 1_000_000_000 - ppb.reduce((a, b) => a + b, 0);
        const lines = ppb.map((amount, at) => line(at + 1, `M${at}`, 'part', amount));
        const made = sheet(formula('BLK', lines, { lossPpb, residueMg }), output, { scaleStepMg });
        const exact = putInFor(output, residueMg, lossPpb);
        expect(made.putInMg % scaleStepMg).toBe(0);
        expect(made.putInMg).toBeGreaterThanOrEqual(exact);
        expect(made.putInMg - exact).toBeLessThan(scaleStepMg);
        expect(made.amounts.reduce((a, b) => a + b, 0)).toBe(made.putInMg);
      },
    ),
  );
});

it('takes the minutes of any batch and whole minutes for the seconds of every unit', () => {
  expect(batchMinutes({ minutesBatch: 10, secondsUnit: 20 }, 3)).toBe(11);
  expect(batchMinutes({ minutesBatch: 10, secondsUnit: 20 }, 4)).toBe(12);
  expect(batchMinutes({ minutesBatch: 10, secondsUnit: 0 }, 4)).toBe(10);
  // the seconds pass 2^53, and are not rounded
  expect(batchMinutes({ minutesBatch: 0, secondsUnit: 60 }, 900_000_000_000_001)).toBe(900_000_000_000_001);
});
