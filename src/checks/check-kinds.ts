import type { EntityManager } from 'typeorm';
import type { Family, ItemKind } from '../catalog/item.entity.js';

export const CHECK_MEASURES = ['number', 'choice', 'weights'] as const;
export const MADE = ['bulk', 'product', 'either'] as const;

/** Something to find out about a batch: what is looked at, and what is good. */
export interface CheckKind {
  code: string;
  family: Family;
  /** At which batches: those of the bulk, those of what is filled from it, or both. */
  made: (typeof MADE)[number];
  position: number;
  name: string;
  how: string;
  measure: (typeof CHECK_MEASURES)[number];
  unit: string;
  /** Thousandths of the unit, for a number; null sets no limit. */
  lowestE3: number | null;
  highestE3: number | null;
  choices: string[];
  good: string[];
  /** For weights: fewer units than the rule's plan takes are enough; null asks for all of them. */
  unitsLeast: number | null;
  /** Of the kinds of a family with the same word one is enough. */
  oneOf: string;
  isRequired: boolean;
}

type Stated = Pick<CheckKind, 'code' | 'name' | 'how' | 'measure'> & Partial<CheckKind>;

const kindsFor = (family: Family, made: CheckKind['made'], stated: readonly Stated[]): CheckKind[] =>
  stated.map((kind, at) => ({
    family,
    made,
    position: (at + 1) * 10 + (made === 'bulk' ? 0 : 500),
    unit: '',
    lowestE3: null,
    highestE3: null,
    choices: [],
    good: [],
    unitsLeast: null,
    oneOf: '',
    isRequired: true,
    ...kind,
    code: `${family}-${kind.code}`,
  }));

const choice = (code: string, name: string, how: string, choices: string[], good: string[]): Stated => ({
  code,
  name,
  how,
  measure: 'choice',
  choices,
  good,
});

const CLEAR = choice(
  'clear',
  'Against a light',
  'Hold a clear glass of it against a light, a dark line behind it.',
  ['clear', 'hazy'],
  ['clear'],
);
const SEPARATION = choice(
  'separation',
  'Separation',
  'Leave it still, then look for layers, rings and drops.',
  ['none', 'separated'],
  ['none'],
);
const DRY_DOWN = choice(
  'dry-down',
  'Dry-down on white paper',
  'Spray white paper once from a hand away; look after ten minutes.',
  ['no residue', 'residue'],
  ['no residue'],
);
const SCENT = choice(
  'scent',
  'Scent against the kept sample',
  'Smell it beside the sample kept of an earlier batch.',
  ['as the sample', 'no sample yet', 'different'],
  ['as the sample', 'no sample yet'],
);
const WEIGHTS: Stated = {
  code: 'weights',
  name: 'Contents of filled units',
  how: 'Weigh units taken at random; take off what the empty container weighs.',
  measure: 'weights',
};

/*
 * Common practice, no source, but for the highest flame: 75 mm is the 3 inches of ASTM F2417 (from memory). A workshop
 * sets its own limits in place of these; safety standards and local codes come first.
 */
const CANDLE: Stated[] = [
  WEIGHTS,
  {
    code: 'flame',
    name: 'Burn test: height of the flame',
    how: 'Wick trimmed, on a plate that cannot burn, never alone. Measure after an hour.',
    measure: 'number',
    unit: 'mm',
    lowestE3: 8_000,
    highestE3: 75_000,
  },
  {
    code: 'pool',
    name: 'Burn test: width of the melted pool',
    how: 'Across the widest place, after as many hours as the vessel is inches wide.',
    measure: 'number',
    unit: 'mm',
    lowestE3: 10_000,
  },
  choice('soot', 'Burn test: soot', 'Look at the rim and at a white card held above.', ['none', 'some'], ['none']),
  choice(
    'throw',
    'How far the scent carries',
    'In a closed room of usual size, lit for an hour.',
    ['good', 'weak', 'too strong'],
    ['good'],
  ),
];

const SOAP: Stated[] = [
  choice(
    'cure',
    'Cure',
    'Firm, dry to the touch, and its weight the same as a week before.',
    ['cured', 'still soft'],
    ['cured'],
  ),
  {
    ...choice(
      'zap',
      'Zap test',
      'Wet a gloved finger, rub the bar, touch it to the tip of the tongue; only of a bar that has cured.',
      ['no zap', 'zaps'],
      ['no zap'],
    ),
    oneOf: 'alkali',
  },
  {
    code: 'ph',
    name: 'pH of a solution',
    how: 'One part in a hundred of distilled water, with a meter or strips.',
    measure: 'number',
    lowestE3: 8_000,
    highestE3: 10_500,
    oneOf: 'alkali',
  },
  WEIGHTS,
];

const BUILT_IN: readonly CheckKind[] = [
  ...kindsFor('spray', 'bulk', [CLEAR, SEPARATION, DRY_DOWN, SCENT]),
  ...kindsFor('spray', 'product', [WEIGHTS]),
  ...kindsFor('body', 'bulk', [CLEAR, SEPARATION, DRY_DOWN, SCENT]),
  ...kindsFor('body', 'product', [WEIGHTS]),
  ...kindsFor('diffuser', 'bulk', [CLEAR, SEPARATION, SCENT]),
  ...kindsFor('diffuser', 'product', [WEIGHTS]),
  ...kindsFor('candle', 'product', CANDLE),
  ...kindsFor('soap', 'product', SOAP),
];

/** Every kind: the program's own, those the workshop said otherwise in their place, and those it added. */
export async function checkKinds(tx: EntityManager): Promise<CheckKind[]> {
  const rows = await tx.query<CheckKind[]>(
    `select code, family, made, position, name, how, measure, unit, lowest_e3 as "lowestE3", highest_e3 as "highestE3",
       choices, good, units_least as "unitsLeast", one_of as "oneOf", is_required as "isRequired" from check_kind`,
  );
  const kinds = new Map(BUILT_IN.map((kind) => [kind.code, kind]));
  for (const row of rows) kinds.set(row.code, row);
  return [...kinds.values()].sort(
    (a, b) => a.family.localeCompare(b.family) || a.position - b.position || (a.code < b.code ? -1 : 1),
  );
}

/** Those of one batch, by what it makes. */
export const kindsOf = (kinds: readonly CheckKind[], item: { family: Family; kind: ItemKind }): CheckKind[] =>
  kinds.filter(
    ({ family, made }) =>
      family === item.family && (made === 'either' || made === (item.kind === 'bulk' ? 'bulk' : 'product')),
  );
