import { expect, it } from 'vitest';
import { byText } from '../../src/kernel/measure/text-order.js';

it('puts texts in the order of their characters, capitals and digits first', () => {
  expect([byText('A', 'B'), byText('B', 'A'), byText('A', 'A')]).toEqual([-1, 1, 0]);
  expect(['b', 'a', 'B', '10', '9', 'ab'].sort(byText)).toEqual(['10', '9', 'B', 'a', 'ab', 'b']);
});
