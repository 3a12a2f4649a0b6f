import type { BookLine } from '../../../catalog/formula-book.service.js';
import type { Step } from '../../../catalog/formula.entity.js';
import type { Basis } from '../../../kernel/formula/formula.js';
import { exactText } from '../../../ui/amounts.js';

export const STEP_WORDS: Record<Step, string> = { make: 'Make', fill: 'Fill', pack: 'Pack' };

/** How a line is stated, in the words of its choice. */
export const BASIS_WORDS: Record<Basis, string> = {
  share: '% of the whole',
  load: '% of the base',
  ratio: 'times other lines',
  qs: 'fills up to 100 %',
  each: 'for each one made',
  fixed: 'for each batch',
};

/** A part in percent to four decimals, which no bench scale is finer than. */
export function partText(ppb: number): string {
  return `${Number((ppb / 10_000_000).toFixed(4))} %`;
}

/** As it was written: "5 % of the base", "1 × lines 2 and 3". */
export function statedText(line: Pick<BookLine, 'basis' | 'amount' | 'isBase' | 'ratioOf' | 'measure'>): string {
  const amount = line.amount ?? 0;
  const base = line.isBase ? ', base' : '';
  switch (line.basis) {
    case 'share':
      return `${amount / 10_000_000} % of the whole${base}`;
    case 'load':
      return `${amount / 10_000_000} % of the base`;
    case 'ratio':
      return `${amount / 1_000_000_000} × line ${line.ratioOf.join(' + ')}${base}`;
    case 'qs':
      return `fills up to 100 %${base}`;
    case 'each':
      return `${exactText(amount, line.measure)} for each one`;
    case 'fixed':
      return `${exactText(amount, line.measure)} for each batch`;
  }
}
