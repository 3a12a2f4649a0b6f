import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fold, GenealogyCircle, layersOf, reached } from '../../src/kernel/trace/genealogy.js';
import type { Link } from '../../src/kernel/trace/genealogy.js';

const link = (from: string, to: string, quantity = 1): Link => ({ from, to, quantity });

/** Links from lower numbers to higher ones: never a circle. */
const links = fc
  .array(fc.tuple(fc.nat(30), fc.nat(30)), { maxLength: 80 })
  .map((pairs) => pairs.filter(([a, b]) => a !== b).map(([a, b]) => link(`n${Math.min(a, b)}`, `n${Math.max(a, b)}`)));

describe('layers', () => {
  it('stand right behind the last of what they come of', () => {
    const layers = layersOf(
      [link('oil', 'bulk'), link('bulk', 'bottle'), link('cap', 'bottle'), link('oil', 'bottle')],
      ['alone'],
    );
    expect(Object.fromEntries(layers)).toEqual({ alone: 0, oil: 0, cap: 0, bulk: 1, bottle: 2 });
  });

  it('only ever lead to the right, whatever is linked', () => {
    fc.assert(
      fc.property(links, (some) => {
        const layers = layersOf(some);
        for (const { from, to } of some) expect(layers.get(to)!).toBeGreaterThan(layers.get(from)!);
        for (const [key, layer] of layers)
          if (layer > 0) expect(some.some(({ from, to }) => to === key && layers.get(from) === layer - 1)).toBe(true);
      }),
    );
  });

  it('refuse a circle, and say what is in it', () => {
    const circle = [link('a', 'b'), link('b', 'c'), link('c', 'b'), link('x', 'y')];
    expect(() => layersOf(circle)).toThrow(GenealogyCircle);
    try {
      layersOf(circle);
    } catch (error) {
      expect((error as GenealogyCircle).keys.sort()).toEqual(['b', 'c']);
    }
  });
});

it('names the first five of a circle that is larger', () => {
  const ring = 'abcdefg'.split('').map((from, at, all) => link(from, all[(at + 1) % all.length]!));
  let error: unknown;
  try {
    layersOf(ring);
  } catch (thrown) {
    error = thrown;
  }
  expect(error).toBeInstanceOf(GenealogyCircle);
  expect(error).toMatchObject({
    name: 'GenealogyCircle',
    message: 'These come of themselves: a, b, c, d, e',
    keys: 'abcdefg'.split(''),
  });
});

describe('what is reached', () => {
  it('is what it leads to, or what it comes of, itself included and nothing beside it', () => {
    const some = [link('oil', 'bulk'), link('wax', 'bulk'), link('bulk', 'a'), link('bulk', 'b'), link('cap', 'b')];
    expect([...reached(some, 'bulk', 'forward')].sort()).toEqual(['a', 'b', 'bulk']);
    expect([...reached(some, 'bulk', 'back')].sort()).toEqual(['bulk', 'oil', 'wax']);
    expect([...reached(some, 'b', 'back')].sort()).toEqual(['b', 'bulk', 'cap', 'oil', 'wax']);
    expect([...reached(some, 'b', 'forward')]).toEqual(['b']);
    expect([...reached([], 'alone', 'back')]).toEqual(['alone']);
  });

  it('forward from one is what has it behind itself', () => {
    fc.assert(
      fc.property(links, (some) => {
        const keys = [...new Set(some.flatMap(({ from, to }) => [from, to]))];
        for (const a of keys)
          for (const b of reached(some, a, 'forward')) expect(reached(some, b, 'back').has(a)).toBe(true);
      }),
    );
  });
});

describe('folding', () => {
  const parcels = Array.from({ length: 500 }, (_, n) => `order:${n}`);
  const many = [link('oil', 'bulk'), link('bulk', 'lot', 500), ...parcels.map((to) => link('lot', to, 2))];
  const keys = ['oil', 'bulk', 'lot', ...parcels];
  const groupOf = (key: string) => (key.startsWith('order') ? 'orders' : null);

  it('draws alike things as one and sums what leads to them', () => {
    const drawn = fold(many, keys, groupOf, 40);
    expect(drawn.keys).toHaveLength(4);
    expect(drawn.folded).toEqual([{ key: 'fold:orders 3', members: parcels }]);
    expect(drawn.links.at(-1)).toEqual(link('lot', 'fold:orders 3', 1_000));
  });

  it('leaves alone what there is room for', () => {
    expect(fold(many, keys, groupOf, 503)).toEqual({ keys, links: many, folded: [] });
  });

  it('folds the largest group first and stops as soon as there is room; equal ones by name', () => {
    const of = (key: string) => key.slice(0, 1);
    const shown = (most: number) => fold([], ['b1', 'b2', 'c1', 'c2', 'c3', 'a1', 'a2', 'd1'], of, most).folded;
    expect(shown(8)).toEqual([]);
    expect(shown(7)).toEqual([{ key: 'fold:c 0', members: ['c1', 'c2', 'c3'] }]);
    expect(shown(6).map(({ key }) => key)).toEqual(['fold:c 0']);
    expect(shown(5).map(({ key }) => key)).toEqual(['fold:c 0', 'fold:a 0']);
    // one alone is never folded
    expect(shown(0).map(({ key }) => key)).toEqual(['fold:c 0', 'fold:a 0', 'fold:b 0']);
  });

  it('folds alike things on the same layer only, and keeps one link between two', () => {
    const some = [link('x', 'p', 3), link('p', 'q', 2), link('x', 'r', 4), link('p', 'r', 1), link('x', 's', 5)];
    const drawn = fold(some, ['x', 'p', 'q', 'r', 's'], (key) => (key === 'x' ? null : 'g'), 0);
    // p and s right behind x, q and r behind p
    expect(drawn).toEqual({
      keys: ['x', 'fold:g 1', 'fold:g 2'],
      folded: [
        { key: 'fold:g 1', members: ['p', 's'] },
        { key: 'fold:g 2', members: ['q', 'r'] },
      ],
      links: [link('x', 'fold:g 1', 8), link('fold:g 1', 'fold:g 2', 3), link('x', 'fold:g 2', 4)],
    });
    expect(some).toHaveLength(5);
  });

  it('loses no quantity, whatever is folded', () => {
    fc.assert(
      fc.property(links, fc.nat(20), (some, most) => {
        const all = [...new Set(some.flatMap(({ from, to }) => [from, to]))];
        const drawn = fold(some, all, (key) => (Number(key.slice(1)) % 3 === 0 ? 'third' : null), most);
        const sum = (of: readonly Link[]) => of.reduce((total, { quantity }) => total + quantity, 0);
        expect(sum(drawn.links)).toBe(sum(some));
        expect(drawn.folded.reduce((left, { members }) => left - members.length + 1, all.length)).toBe(
          drawn.keys.length,
        );
        expect(() => layersOf(drawn.links, drawn.keys)).not.toThrow();
      }),
    );
  });
});
