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
}

export const TERMS = [
  'urgent',
  'uncovered',
  'late',
  'days',
  'weightedDays',
  'expires',
  'washing',
] as const satisfies (keyof Costs)[];
export type Term = (typeof TERMS)[number];

/** What counts most first, unless the workshop says otherwise. */
export const USUAL_TERMS: readonly Term[] = ['urgent', 'uncovered', 'late', 'days', 'expires', 'washing'];

/** Those that count lines; of the others a line that is not covered costs nothing. */
const OF_WHOLE_LINES: readonly Term[] = ['urgent', 'uncovered', 'late'];

/**
 * What the workshop says counts first, and after it the others as usual. What is not covered has no day and is not poured, so it
 * comes before all that would be saved by leaving lines out, unless the workshop says where.
 */
export function termsFrom(said: readonly Term[] = []): Term[] {
  const first = said.flatMap((term): Term[] =>
    OF_WHOLE_LINES.includes(term) || said.includes('uncovered') ? [term] : ['uncovered', term],
  );
  return [...new Set([...first, ...USUAL_TERMS])];
}

/** Of these terms those that follow from the days on which lines go. */
export const termsOfLines = (terms: readonly Term[]): Term[] =>
  terms.filter((term) => term !== 'expires' && term !== 'washing');

/** What a plan costs term by term, what counts most first. */
export type Service = readonly number[];

export const inOrder = (costs: Partial<Costs>, terms: readonly Term[]): Service =>
  terms.map((term) => costs[term] ?? 0);

/** Below none where `one` is better than `other`, 0 where they are the same. */
export function compareService(one: Service, other: Service): number {
  for (let i = 0; i < one.length; i++) if (one[i] !== other[i]) return one[i]! - other[i]!;
  return 0;
}
