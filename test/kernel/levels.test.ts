import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ItemParts, LevelsError, lowLevelCodes } from '../../src/kernel/formula/levels.js';

const item = (code: string, ...parts: string[]): ItemParts => ({ code, parts });
const bought = (...codes: string[]): ItemParts[] => codes.map((code) => item(code));
const levels = (items: ItemParts[]) => Object.fromEntries(lowLevelCodes(items));

function fault(items: ItemParts[]): LevelsError {
  try {
    lowLevelCodes(items);
  } catch (error) {
    if (error instanceof LevelsError) return error;
    throw error;
  }
  throw new Error('accepted');
}

describe('lowLevelCodes', () => {
  it('puts an item below everything that needs it, however far up', () => {
    expect(
      levels([
        ...bought('WATER', 'BOTTLE'),
        item('SPRAY-100', 'BLK', 'BOTTLE', 'WATER'),
        item('SET', 'SPRAY-100', 'BOTTLE'),
        item('BLK', 'WATER'),
      ]),
    ).toEqual({ SET: 0, 'SPRAY-100': 1, BLK: 2, BOTTLE: 2, WATER: 3 });
  });

  it('takes an item whose formula names a part twice', () => {
    expect(levels([item('A', 'B', 'C', 'B'), item('C', 'B'), ...bought('B')])).toEqual({ A: 0, C: 1, B: 2 });
  });

  it('answers the longest way down, whatever the order of the list', () => {
    const structures = fc
      .array(fc.array(fc.nat(), { maxLength: 4 }), { minLength: 2, maxLength: 12 })
      .map((raw) =>
        raw.map((parts, i) =>
          item(`I${i}`, ...(i === raw.length - 1 ? [] : parts.map((to) => `I${i + 1 + (to % (raw.length - 1 - i))}`))),
        ),
      );
    fc.assert(
      fc.property(structures, (items) => {
        const longest = (code: string): number =>
          Math.max(-1, ...items.filter(({ parts }) => parts.includes(code)).map((user) => longest(user.code))) + 1;
        const expected = Object.fromEntries(items.map(({ code }) => [code, longest(code)]));
        expect(levels(items)).toEqual(expected);
        expect(levels(items.toReversed())).toEqual(expected);
      }),
    );
  });

  it('names the cycle, from its first code, in the order of what is made from what', () => {
    const error = fault([
      item('TOP', 'BLK-B'),
      item('BLK-C', 'BLK-A', 'WATER'),
      item('BLK-A', 'BLK-B'),
      item('BLK-B', 'BLK-C'),
      item('WATER', 'SALT'),
      ...bought('SALT'),
    ]);
    expect([error.code, error.codes]).toEqual(['cycle', ['BLK-A', 'BLK-B', 'BLK-C']]);
    expect(error.message).toBe('made from itself: BLK-A -> BLK-B -> BLK-C -> BLK-A');
    expect(error.name).toBe('LevelsError');
    expect(fault([item('A', 'A')]).message).toBe('made from itself: A -> A');
  });

  it('finds the cycle whatever hangs above and below it', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 6 }), fc.nat(4), fc.nat(4), (size, above, below) => {
        const ring = Array.from({ length: size }, (_, i) => `C${i}`);
        const items = [
          ...ring.map((code, i) => item(code, ring[(i + 1) % size]!, 'DOWN0')),
          ...Array.from({ length: below + 1 }, (_, i) => item(`DOWN${i}`, ...(i < below ? [`DOWN${i + 1}`] : []))),
          ...Array.from({ length: above }, (_, i) => item(`A${i}`, i === 0 ? 'C0' : `A${i - 1}`)),
        ];
        expect(fault(items).codes).toEqual(ring);
      }),
    );
  });

  it('allows twelve levels of formulas and no more', () => {
    const chain = (deep: number, top = 'L') =>
      Array.from({ length: deep + 1 }, (_, i) =>
        item(`${top}${String(i).padStart(2, '0')}`, ...(i < deep ? [`${top}${String(i + 1).padStart(2, '0')}`] : [])),
      );
    expect(lowLevelCodes(chain(12)).get('L12')).toBe(12);
    expect([fault(chain(13)).code, fault(chain(13)).codes]).toEqual(['too-deep', ['L13']]);
    const both = fault([...chain(14, 'Z'), ...chain(13, 'B')]);
    expect(both.codes).toEqual(['B13', 'Z13', 'Z14']);
    expect(both.message).toBe('more than 12 levels down: B13, Z13, Z14');
  });

  it('refuses unknown parts and items listed twice', () => {
    const unknown = fault([item('A', 'B')]);
    expect([unknown.code, unknown.codes, unknown.message]).toEqual([
      'unknown-part',
      ['A', 'B'],
      'A needs an unknown B',
    ]);
    const twice = fault(bought('C', 'A', 'B', 'A', 'C'));
    expect([twice.code, twice.codes, twice.message]).toEqual(['duplicate-item', ['C', 'A'], 'listed twice: C, A']);
    expect(levels([])).toEqual({});
  });
});
