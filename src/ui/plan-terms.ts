import type { Term } from '../kernel/plan/terms.js';

/** What counts in a plan, as the workshop says it. */
export const TERM_WORDS: Record<Term, string> = {
  urgent: 'urgent orders are in time',
  uncovered: 'as much as possible is made',
  late: 'few lines are late',
  days: 'few days late in all',
  weightedDays: 'few days late, most of all for who counts more',
  expires: 'little is thrown away',
  washing: 'little washing',
  movedSoon: 'what was shown for today and the next open day stays',
  moved: 'pours stay where they were shown',
  uneven: 'no day is much fuller than another',
};

/** As one text, the first first. */
export const termsText = (terms: readonly Term[]): string =>
  terms.length === 0 ? 'as usual' : terms.map((term) => TERM_WORDS[term]).join(', then ');
