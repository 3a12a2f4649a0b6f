import type { core } from 'zod';

const WRITE = 'Write something here.';
const WHOLE = 'Write a whole number, like 12.';
const NUMBER = 'Write a number, like 12.';
const CHOOSE = 'Choose one of the list.';

/** Above this a limit says nothing to a person: it is what a program can count to. */
const SAYABLE_MAX = 1_000_000_000;

const KINDS: Record<string, string> = {
  string: WRITE,
  number: NUMBER,
  int: WHOLE,
  boolean: 'Say yes or no.',
  date: 'Say a day, like 2026-03-02.',
  array: 'Choose at least one.',
};

const FORMATS: Record<string, string> = {
  date: 'Say a day, like 2026-03-02.',
  email: 'Write an email address, like name@example.org.',
  datetime: 'Say a day and a time, like 2026-03-02T10:20:00Z.',
};

/** What zod says where a schema has no words of its own. */
const OF_THE_LIBRARY = /^(Invalid|Too (big|small)|Unrecognized)\b/;

/** What would be right where zod found a fault, in words a person says aloud. */
export function plainWords(issue: core.$ZodIssue): string {
  if (!OF_THE_LIBRARY.test(issue.message)) return asSentence(issue.message);
  switch (issue.code) {
    case 'invalid_type':
      return ofKind(issue.expected);
    case 'invalid_value':
      return CHOOSE;
    case 'too_small':
      return atLeast(issue.origin, Number(issue.minimum), issue.inclusive === false);
    case 'too_big':
      return atMost(issue.origin, Number(issue.maximum), issue.inclusive === false);
    case 'invalid_format':
      return FORMATS[issue.format] ?? 'This is not written as it is meant here.';
    case 'not_multiple_of':
      return `Say a whole number of ${issue.divisor}.`;
    case 'invalid_union':
      return ofUnion(issue);
    case 'unrecognized_keys':
      return 'This form has no such field.';
    default:
      return 'This is not written as it is meant here.';
  }
}

/** What a field wants that may be written in more than one way. */
export const ofUnion = (issue: core.$ZodIssueInvalidUnion): string => {
  const near = issue.errors.flat().find((part) => !(part.code === 'invalid_type' && part.path.length === 0));
  if (near) return plainWords(near);
  const kinds = issue.errors.flat().flatMap((part) => (part.code === 'invalid_type' ? [part.expected] : []));
  return kinds.includes('string') ? WRITE : ofKind(kinds[0] ?? '');
};

const ofKind = (kind: string): string => KINDS[kind] ?? WRITE;

function atLeast(of: string, least: number, isAbove: boolean): string {
  if (of === 'string') return least <= 1 ? WRITE : `Write ${least} characters or more.`;
  if (of === 'array') return least <= 1 ? 'Choose at least one.' : `Choose at least ${least}.`;
  if (least < -SAYABLE_MAX) return 'Say a larger number.';
  return isAbove ? `Say more than ${least}.` : `Say ${least} or more.`;
}

function atMost(of: string, most: number, isBelow: boolean): string {
  if (of === 'string') return `Write ${most} characters at most.`;
  if (of === 'array') return `These are too many: ${most} at most.`;
  if (most > SAYABLE_MAX) return 'Say a smaller number.';
  return isBelow ? `Say less than ${most}.` : `Say ${most} at most.`;
}

/** How what is said of a value for programs begins, and how the same begins as a sentence. */
const BEGINNINGS: readonly (readonly [RegExp, string])[] = [
  [/^is required\b/, 'Write something here'],
  [/^must not be empty\b/, 'Write something here'],
  [/^must be at least\b/, 'Say at least'],
  [/^must be\b/, 'This has to be'],
  [/^must not\b/, 'This may not'],
  [/^must\b/, 'This has to'],
  [/^(?=(is|has|may|holds|does|names|cannot)\b)/, 'This '],
];

/** What is said of a value for programs (`must be whole minutes`), as a sentence. Sentences stay as they are. */
export function asSentence(detail: string): string {
  const [begins, instead] = BEGINNINGS.find(([pattern]) => pattern.test(detail)) ?? [/^/, ''];
  const text = detail.replace(begins, instead).replaceAll(/\bmust be\b/g, 'has to be');
  const whole = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.!?]$/.test(whole) ? whole : `${whole}.`;
}

/** How a field is called that has no label on the page: its place in what was sent, in words. */
export function placeInWords(pointer: string): string {
  const steps = pointer.split('/').filter((step) => step !== '');
  const name = steps.findLast((step) => !/^\d+$/.test(step)) ?? '';
  const words = name
    .replaceAll(/[_.-]+/g, ' ')
    .replaceAll(/([a-z])([A-Z])/g, '$1 $2')
    .replace(/ (Ppb|E4|id)$/i, '')
    .toLowerCase()
    .trim();
  return words === '' ? 'this' : words;
}
