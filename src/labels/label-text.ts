import type { Family, LotDateKind } from '../catalog/item.entity.js';

/** What a label states as contents: exactly one of the two. */
export interface NetStated {
  netMg: number | null;
  netUl: number | null;
}

/*
 * 1 ounce avoirdupois = 28.349 523 125 g; 1 US gallon = 3785.411 784 ml = 128 fluid ounces: NIST Handbook 44 (2014),
 * appendix C, pp. C-12 and C-14.
 */
const HUNDREDTHS_PER_MG = { numerator: 100_000_000n, denominator: 28_349_523_125n } as const;
const HUNDREDTHS_PER_UL = { numerator: 12_800_000n, denominator: 3_785_411_784n } as const;

/**
 * Contents in both systems, each its own: "100 ml / 3.38 fl oz", "220 g / 7.76 oz". What is worked out is rounded down, to
 * a hundredth below ten and a tenth from there, so that no label states more than is in it.
 */
export function netText({ netMg, netUl }: NetStated): string | null {
  if (netMg !== null) return `${metric(netMg, 'g', 'kg')} / ${customary(netMg, HUNDREDTHS_PER_MG)} oz`;
  if (netUl !== null) return `${metric(netUl, 'ml', 'l')} / ${customary(netUl, HUNDREDTHS_PER_UL)} fl oz`;
  return null;
}

/** Thousandths of a gram or millilitre, as a person writes them. */
function metric(amount: number, small: string, large: string): string {
  const isLarge = amount >= 1_000_000 && amount % 10_000 === 0;
  return isLarge ? `${amount / 1_000_000} ${large}` : `${amount / 1000} ${small}`;
}

function customary(amount: number, per: { numerator: bigint; denominator: bigint }): string {
  const hundredths = Number((BigInt(amount) * per.numerator) / per.denominator);
  return String(hundredths < 1000 ? hundredths / 100 : Math.floor(hundredths / 10) / 10);
}

const DATE_WORDS: Record<LotDateKind, string> = {
  expiry: 'Use by',
  'best-before': 'Best before',
  retest: 'Best before',
};

/** Until when it is good: its day, and how long once it is opened. */
export function dateTexts(lot: { kind: LotDateKind; expiresOn: string | null; openedMonths: number | null }): string[] {
  return [
    lot.expiresOn === null ? '' : `${DATE_WORDS[lot.kind]} ${lot.expiresOn}`,
    lot.openedMonths === null
      ? ''
      : `Use within ${lot.openedMonths} ${lot.openedMonths === 1 ? 'month' : 'months'} of opening`,
  ].filter((text) => text !== '');
}

/** The usual sentences for what it is: common practice, no source, and never all there may have to be. */
const BY_FAMILY: Partial<Record<Family, string[]>> = {
  candle: [
    'Never leave a burning candle alone. Away from children, pets and anything that burns.',
    'Trim the wick to 5 mm. Stop when 10 mm of wax is left.',
  ],
  diffuser: ['Not to drink. Away from children and pets. Protect surfaces, stand it upright.'],
  spray: ['Not for skin. Do not breathe the mist or spray it near eyes.'],
  body: ['For external use. Keep out of the eyes. Stop if skin is irritated.'],
  soap: ['Keep out of the eyes.'],
};

/** Cautions in the order they are printed: what burns, what it is, what the maker added. */
export function cautionTexts(item: { family: Family; flammable: boolean }, own: readonly string[]): string[] {
  return [
    ...(item.flammable ? ['Flammable. Keep away from heat, sparks and open flames. No smoking.'] : []),
    ...(BY_FAMILY[item.family] ?? []),
    ...own,
  ];
}

/** Carriers restrict what burns; which, how much and how it is marked, they and the law say. */
export const FLAMMABLE_NOTICE =
  'Flammable: carriers restrict it or refuse it, by air above all. Ask yours how it must be packed and marked before it is handed over.';
