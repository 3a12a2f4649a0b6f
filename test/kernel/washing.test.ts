import { describe, expect, it } from 'vitest';
import { Washing, washingOf } from '../../src/kernel/plan/washing.js';
import { wash, washingBy } from '../support/washing.js';
import { emptyWorkshop } from '../support/workshop.js';

const SCENTS = { MINT: 'light', FERN: 'light', SMOKE: 'heavy', LIME: 'citrus', CEDAR: null, FIG: null };
const POT = { code: 'POT-1', kind: 'pot' };
const JUG = { code: 'JUG', kind: 'jug' };

const table = (...rows: Parameters<typeof washingBy>[0]) => new Washing(washingBy(rows, SCENTS));

describe('what a vessel needs between two pours', () => {
  it('is most for a light scent after a heavy one, less the other way round', () => {
    const washing = table(wash('heavy', 'light', 45), wash('light', 'heavy', 10));
    expect(washing.minutes(POT, 'SMOKE', 'MINT')).toBe(45);
    expect(washing.minutes(POT, 'MINT', 'SMOKE')).toBe(10);
  });

  it('is nothing between equals: an item after itself, or another of its scent and family', () => {
    const washing = table(wash('', '', 30));
    expect(washing.minutes(POT, 'MINT', 'MINT')).toBe(0);
    expect(washing.minutes(POT, 'MINT', 'FERN')).toBe(0);
    expect(washing.minutes(POT, 'CEDAR', 'CEDAR')).toBe(0);
    expect(washing.minutes(POT, 'MINT', 'LIME')).toBe(30);
  });

  it('is as said between two of a family whose scents nobody named', () => {
    expect(table(wash('', '', 30)).minutes(POT, 'CEDAR', 'FIG')).toBe(30);
  });

  it('is as said between two of one scent that are of different families', () => {
    const said = washingBy([wash('spray!', 'candle!', 15), wash('', '', 60)], { MINT: 'light' });
    said.items.push({ code: 'WICK', family: 'candle', scent: 'light' });
    expect(new Washing(said).minutes(POT, 'MINT', 'WICK')).toBe(15);
  });

  it('is between equals what a row says that names them on both sides', () => {
    const washing = table(wash('', '', 30), wash('heavy', 'heavy', 5), wash('spray!', 'spray!', 20));
    expect(washing.minutes(POT, 'SMOKE', 'SMOKE')).toBe(5);
    expect(washing.minutes(POT, 'MINT', 'FERN')).toBe(20);
    expect(washing.minutes(POT, 'FIG', 'FIG')).toBe(20);
    // what names two different things on its sides is not of equals
    expect(table(wash('spray!', 'light', 20)).minutes(POT, 'MINT', 'MINT')).toBe(0);
  });

  it('is nothing where nothing stood there, or no row is for it', () => {
    const washing = table(wash('heavy', 'light', 45));
    expect(washing.minutes(POT, null, 'MINT')).toBe(0);
    expect(washing.minutes(POT, 'LIME', 'MINT')).toBe(0);
    expect(washing.minutes(POT, 'CEDAR', 'MINT')).toBe(0);
  });

  it('is of something that is not made any more only what is said of anything', () => {
    const washing = table(wash('heavy', 'light', 45), wash('', 'light', 25));
    expect(washing.minutes(POT, 'GONE', 'MINT')).toBe(25);
    expect(washing.minutes(POT, 'GONE', 'GONE')).toBe(0);
  });
});

describe('of several rows', () => {
  it('one for the vessel counts before one for its kind, and that before one for any', () => {
    const rows = [wash('heavy', 'light', 45), wash('heavy', 'light', 30, 'pot'), wash('heavy', 'light', 20, 'POT-1')];
    const washing = table(...rows);
    expect(washing.minutes(POT, 'SMOKE', 'MINT')).toBe(20);
    expect(washing.minutes({ code: 'POT-2', kind: 'pot' }, 'SMOKE', 'MINT')).toBe(30);
    expect(washing.minutes(JUG, 'SMOKE', 'MINT')).toBe(45);
    // however little it names
    expect(table(...rows, wash('', '', 3, 'POT-1')).minutes(POT, 'SMOKE', 'LIME')).toBe(3);
    expect(table(rows[0]!, wash('', '', 3, 'POT-1')).minutes(POT, 'SMOKE', 'MINT')).toBe(3);
  });

  it('a scent counts before a family, a family before anything, and what stood there before what comes', () => {
    // each but the last is more exact than those that follow
    const rows = [
      wash('heavy', 'light', 9),
      wash('heavy', 'spray!', 8),
      wash('spray!', 'light', 7),
      wash('heavy', '', 6),
      wash('spray!', 'spray!', 5),
      wash('', 'light', 4),
      wash('spray!', '', 3),
      wash('', 'spray!', 2),
      wash('', '', 1),
    ];
    for (const [at, { minutes }] of rows.entries())
      expect(table(...rows.slice(at).toReversed()).minutes(POT, 'SMOKE', 'MINT')).toBe(minutes);
  });

  it('one that says 0 takes away what a wider one says', () => {
    const washing = table(wash('', '', 30), wash('light', 'citrus', 0));
    expect(washing.minutes(POT, 'MINT', 'LIME')).toBe(0);
    expect(washing.minutes(POT, 'LIME', 'MINT')).toBe(30);
  });
});

describe('the most that an item can need', () => {
  it('is that of the worst that may have stood in the worst of its vessels', () => {
    const washing = table(wash('heavy', 'light', 45), wash('citrus', 'light', 60, 'JUG'), wash('light', 'heavy', 10));
    expect(washing.most([POT], 'MINT')).toBe(45);
    expect(washing.most([POT, JUG], 'MINT')).toBe(60);
    expect(washing.most([POT, JUG], 'SMOKE')).toBe(10);
    expect(washing.most([], 'MINT')).toBe(0);
  });
});

it('washes nothing where nothing is said, or no row is left', () => {
  expect(washingOf(emptyWorkshop())).toBeNull();
  expect(washingOf(emptyWorkshop({ washing: washingBy([], SCENTS) }))).toBeNull();
  expect(washingOf(emptyWorkshop({ washing: washingBy([wash('', '', 1)], SCENTS) }))).not.toBeNull();
});
