/** What a plan costs, by the name of each term. Less is better. */
export interface Costs {
  /** Urgent lines that are late or not covered. */
  urgent: number;
  /** Weight of lines that are not covered. */
  uncovered: number;
  /** Weight of lines that are late or not covered. */
  late: number;
  /** Days late in all. */
  days: number;
  /** Weight times days late, in all. */
  weightedDays: number;
  /** What expires, in 1/10 000 of the currency unit. */
  expires: number;
  /** Minutes of washing. */
  washing: number;
  /** Pours last shown for today or the next open day that are elsewhere now. */
  movedSoon: number;
  /** Pours of the plan last shown that are elsewhere now. */
  moved: number;
  /** How unevenly the days are filled (`evenness.ts`). */
  uneven: number;
}

export type Term = keyof Costs;

/** What a workshop may say counts first. */
export const TERMS_TO_SAY = [
  'urgent',
  'uncovered',
  'late',
  'days',
  'weightedDays',
  'expires',
  'washing',
  'moved',
  'uneven',
] as const satisfies Term[];
export type SaidTerm = (typeof TERMS_TO_SAY)[number];

/** What counts most first, unless the workshop says otherwise. */
export const USUAL_TERMS: readonly Term[] = [
  'urgent',
  'uncovered',
  'late',
  'movedSoon',
  'days',
  'expires',
  'washing',
  'moved',
];

/** Those that count lines; of the others a line that is not covered costs nothing. */
const OF_WHOLE_LINES: readonly Term[] = ['urgent', 'uncovered', 'late'];

const OF_LINES: readonly Term[] = [...OF_WHOLE_LINES, 'days', 'weightedDays'];

/** Nobody is served late only so that these are less. */
const AFTER_LINES: readonly Term[] = ['moved', 'uneven'];

/**
 * What the workshop says counts first, and after it the others as usual. What is not covered has no day and is not poured, so it
 * comes before all that would be saved by leaving lines out, unless the workshop says where. Where pours stand counts only
 * among plans that serve orders as well.
 */
export function termsFrom(said: readonly Term[] = []): Term[] {
  const first = said.flatMap((term): Term[] => {
    if (AFTER_LINES.includes(term)) return [...USUAL_TERMS.filter((usual) => OF_LINES.includes(usual)), term];
    return OF_WHOLE_LINES.includes(term) || said.includes('uncovered') ? [term] : ['uncovered', term];
  });
  return [...new Set([...first, ...USUAL_TERMS])];
}

/** Of these terms those that follow from the days on which lines go. */
export const termsOfLines = (terms: readonly Term[]): Term[] => terms.filter((term) => OF_LINES.includes(term));

const OF_PLACES: readonly Term[] = ['movedSoon', ...AFTER_LINES];

/** Of these terms those that are the same wherever pours stand on which days, as long as lines go when they do. */
export const termsBesidePlaces = (terms: readonly Term[]): Term[] => terms.filter((term) => !OF_PLACES.includes(term));

/** What a plan costs term by term, what counts most first. */
export type Service = readonly number[];

export const inOrder = (costs: Partial<Costs>, terms: readonly Term[]): Service =>
  terms.map((term) => costs[term] ?? 0);

/** Below none where `one` is better than `other`, 0 where they are the same. */
export function compareService(one: Service, other: Service): number {
  for (let i = 0; i < one.length; i++) if (one[i] !== other[i]) return one[i]! - other[i]!;
  return 0;
}

/** Whether one plan is no worse than another but in how many pours moved, and how unevenly days are filled. */
export function isNoWorseServed(one: Service, other: Service, terms: readonly Term[]): boolean {
  const served = (service: Service): number[] => service.filter((_, i) => !AFTER_LINES.includes(terms[i]!));
  return compareService(served(one), served(other)) <= 0;
}
