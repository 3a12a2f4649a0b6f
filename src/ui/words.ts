import type { HeldUpBy, LineCover, SizeLimit } from '../kernel/plan/proposal.js';
import { shortDay } from './dates.js';

/** Why an order or a batch is late or not covered, in the maker's words. */
export const REASONS: Record<NonNullable<LineCover['because']>, string> = {
  'bench-full': 'the bench is full',
  'as-shown': 'it stays where it was shown, though there is room before',
  'skill-full': 'those who may make it have no minutes left for it',
  'no-vessel': 'no vessel is free',
  washing: 'washing vessels leaves the bench no minutes for it',
  delivery: 'waits for a delivery',
  rest: 'cannot rest long enough',
  source: 'waits for its bulk',
  fresh: 'is made no sooner, so that all of it keeps until its orders go',
  'too-long': 'takes longer than the bench is open on any day',
  'skill-short': 'takes longer than those who may make it work on any day',
  'nobody-may': 'nobody who works here may make it',
  'too-large': 'no vessel of its kind holds it',
  expires: 'what it is made of does not keep until there is room for it',
  'never-fresh': 'it rests so long that it has less life left than the customer is owed',
  'plan-full': 'the plan holds no more batches: plan again once some of them are made',
  short: 'something is short',
  'no-formula': 'has no formula',
  overdue: 'should have gone already',
  order: 'waits for the rest of its order, which goes all at once',
};

/** Why a batch waits; `who`: those who alone may make it, where not all may. */
export function waitsText(heldUpBy: HeldUpBy, who: readonly string[] | null): string {
  if (heldUpBy !== 'skill-full' || !who || who.length === 0) return REASONS[heldUpBy];
  return `only ${namesText(who)} may make it, and ${who.length === 1 ? 'has' : 'have'} no minutes left for it`;
}

/** `Ada`, `Ada and Bea`, `Ada, Bea and Cleo` */
export const namesText = (names: readonly string[]): string => NAMES.format(names);

const NAMES = new Intl.ListFormat('en-GB');

/** Who may make a batch, where not all may. */
export const whoMayText = (who: readonly string[]): string =>
  who.length === 0 ? 'nobody who works here may make it' : `only ${namesText(who)} may make it`;

/** Words as a sentence of their own. */
export const sentence = (words: string): string => `${capital(words)}.`;

export const capital = (words: string): string => `${words.charAt(0).toUpperCase()}${words.slice(1)}`;

/** What of a day's work only some may do, beside the minutes they have. */
export function fewText(few: { who: string[]; skills: string[]; minutesOpen: number; minutesUsed: number }): string {
  const what = `may make what asks for ${EITHER.format(few.skills)}`;
  const asked = `${count(few.minutesUsed, 'minute')} of it that day`;
  if (few.who.length === 0) return `Nobody who works here ${what}: ${asked}.`;
  const only = `Only ${namesText(few.who)} ${what}`;
  return few.minutesOpen === 0
    ? `${only}, and ${few.who.length === 1 ? 'is' : 'are'} not here: ${asked}.`
    : `${only}: ${few.minutesUsed} of their ${count(few.minutesOpen, 'minute')}.`;
}

const EITHER = new Intl.ListFormat('en-GB', { type: 'disjunction' });

/** What keeps a batch below its formula's least size. */
export const SIZE_LIMITS: Record<SizeLimit, string> = {
  formula: 'its steps and its largest batch allow no more',
  vessel: 'no vessel of its kind holds more',
  bench: 'the bench is not open longer on any day',
  people: 'those who may make it do not work longer on any day',
  source: 'one batch of what goes into it gives no more',
};

/** What to do with what stands in a vessel that is emptied before all of it is used. */
export function decantText({ on, for: next }: { on: string; for: string | null }, vessel: string): string {
  const why = next === null ? 'the rest of it is used later' : `${vessel} is needed for ${next}`;
  return `Decant into another container on ${shortDay(on)}: ${why}.`;
}

/** What to do before a batch is poured; `after`: the name of what stood there. */
export const washText = ({ minutes, after }: { minutes: number; after: string }, vessel: string): string =>
  `Wash ${vessel} first: ${count(minutes, 'minute')}, after ${after}.`;

/** What resting is called: a spray matures, a candle cures, soap sets in its mould and then cures. */
export function restWord(family: string | undefined, inVessel: boolean): 'matures' | 'cures' | 'sets' {
  if (family === 'soap' && inVessel) return 'sets';
  return family === 'candle' || family === 'soap' ? 'cures' : 'matures';
}

/** `1 order line`, `3 order lines` */
export const count = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

/** Said of a plan that holds no more batches. `lines`: the order lines it has no room for, all or in part. */
export function fullText(batchesMost: number, lines: number): string {
  const leftOut = lines > 0 ? `${count(lines, 'order line')} and stock` : 'stock';
  return (
    `The plan is full: it holds ${batchesMost.toLocaleString('en')} batches, and leaves out ${leftOut} beyond them. ` +
    'Look for an amount with a figure too many; else plan again once some batches are made.'
  );
}
