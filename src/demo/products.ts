import type { Made } from './formulas.js';
import type { ItemRow } from './materials.js';

type Line = Made['formula']['lines'][number];

const product = (code: string, name: string, rest: Partial<ItemRow>): ItemRow => ({
  code,
  name,
  kind: 'product',
  measure: 'counted',
  ...rest,
});

const each = (item: string, amount: string | number, step: 'fill' | 'pack' = 'fill'): Line => ({
  item,
  basis: 'each',
  amount,
  step,
});

/** How a product is kept: so many on the shelf, or made when ordered. */
const kept = (target: number): Partial<ItemRow> => (target > 0 ? { policy: 'to-stock', target } : {});

/** Millilitres: bottle and its pump. */
const SPRAY_BOTTLES: Record<number, [string, string]> = {
  30: ['BT-030', 'PM-18'],
  60: ['BT-060', 'PM-18'],
  100: ['BT-100', 'PM-24'],
  250: ['BT-250', 'PM-24'],
};

/** [scent, name, ml, how many should stand on the shelf] */
const SPRAYS: [string, string, number, number][] = [
  ['CEDAR', 'Cedar and Slate', 100, 36],
  ['CEDAR', 'Cedar and Slate', 250, 16],
  ['FIG', 'Green Fig Yard', 100, 36],
  ['FIG', 'Green Fig Yard', 30, 40],
  ['SMOKE', 'Banked Fire', 100, 30],
  ['AMBER', 'Lamp Amber', 100, 0],
  ['SALT', 'Marsh Salt', 100, 30],
  ['SALT', 'Marsh Salt', 250, 14],
];

const fill = (bulk: string, ml: number, label: string, isSlow: boolean): Made['formula'] => {
  const [bottle, pump] = SPRAY_BOTTLES[ml]!;
  return {
    lines: [each(bulk, `${ml} ml`), each(bottle, 1), each(pump, 1), each(label, 1, 'pack')],
    batchMin: 6,
    loss: '0.8 %',
    minutesBatch: 15,
    secondsUnit: isSlow ? 50 : 40,
    steps: [
      { phase: 'fill', instruction: `Fill ${ml} ml by weight, check every tenth bottle on the scale, fit the pump.` },
      { phase: 'pack', instruction: 'Wipe, label with lot and date, spray once into a cloth.' },
    ],
  };
};

const spray = ([scent, name, ml, target]: (typeof SPRAYS)[number]): Made => ({
  item: product(`SP-${scent}-${String(ml).padStart(3, '0')}`, `${name} room spray ${ml} ml`, {
    family: 'spray',
    flammable: true,
    shelfLifeDays: 720,
    owedLifeDays: 180,
    ...kept(target),
  }),
  formula: fill(`BLK-SP-${scent}`, ml, 'LB-SPRAY', ml > 100),
});

const MISTS: [string, string, number, number][] = [
  ['LINEN', 'Line-Dried Linen', 60, 24],
  ['LINEN', 'Line-Dried Linen', 250, 20],
  ['LAV', 'Lavender Row', 60, 24],
  ['LAV', 'Lavender Row', 100, 30],
  ['ROSE', 'Hedge Rose', 60, 0],
  ['ROSE', 'Hedge Rose', 100, 18],
];

const mist = ([scent, name, ml, target]: (typeof MISTS)[number]): Made => ({
  item: product(`MI-${scent}-${String(ml).padStart(3, '0')}`, `${name} mist ${ml} ml`, {
    family: 'body',
    shelfLifeDays: 365,
    owedLifeDays: 120,
    ...kept(target),
  }),
  formula: fill(`BLK-MI-${scent}`, ml, 'LB-MIST', ml > 100),
});

const CANDLES: [string, string, number, number][] = [
  ['FIG', 'Green Fig Yard', 120, 24],
  ['FIG', 'Green Fig Yard', 220, 18],
  ['HONEY', 'Warm Honey Oat', 220, 18],
  ['TEA', 'Black Tea Steam', 120, 24],
  ['TEA', 'Black Tea Steam', 220, 18],
  ['AMBER', 'Lamp Amber', 220, 12],
];

const candle = ([scent, name, grams, target]: (typeof CANDLES)[number]): Made => ({
  item: product(`CA-${scent}-${grams}`, `${name} candle ${grams} g`, { family: 'candle', ...kept(target) }),
  formula: {
    lines: [
      each(`BLK-CA-${scent}`, `${grams} g`),
      each(grams > 200 ? 'JAR-220' : 'TIN-120', 1),
      each(grams > 200 ? 'WICK-L' : 'WICK-S', 1),
      each('LB-CANDLE', 1, 'pack'),
      each('LB-WARN', 1, 'pack'),
    ],
    batchMin: 6,
    loss: '1 %',
    minutesBatch: 25,
    secondsUnit: 70,
    restDays: grams > 200 ? 14 : 10,
    steps: [
      { phase: 'fill', instruction: 'Warm the vessels, fix and centre the wicks, pour at 60 °C, leave them still.' },
      { phase: 'fill', instruction: 'Hot wax: gloves, clear bench, a lid at hand to smother a fire. Never water.' },
      {
        phase: 'pack',
        instruction: 'After the cure burn one of the batch, trim the wicks, label with burning instructions.',
      },
    ],
  },
});

const DIFFUSERS: [string, string, number][] = [
  ['CEDAR', 'Cedar and Slate', 14],
  ['PEAR', 'Quiet Pear', 14],
  ['MOSS', 'Moss Wall', 0],
  ['CITRUS', 'Sharp Peel', 10],
];

const diffuser = ([scent, name, target]: (typeof DIFFUSERS)[number]): Made => ({
  item: product(`DI-${scent}-100`, `${name} reed diffuser 100 ml`, {
    family: 'diffuser',
    flammable: true,
    shelfLifeDays: 720,
    owedLifeDays: 180,
    ...kept(target),
  }),
  formula: {
    lines: [
      each(`BLK-DI-${scent}`, '100 ml'),
      each('DB-100', 1),
      each('ST-DB', 1),
      each('REED', 6, 'pack'),
      each('LB-DIFF', 1, 'pack'),
    ],
    batchMin: 6,
    loss: '0.8 %',
    minutesBatch: 15,
    secondsUnit: 55,
    steps: [
      { phase: 'fill', instruction: 'Fill 100 ml by weight, close at once: it burns and it marks varnish.' },
      { phase: 'pack', instruction: 'Bundle six reeds, label, box upright.' },
    ],
  },
});

const SOAP: Made = {
  item: product('SO-OAT-110', 'Honey oat soap bar', {
    family: 'soap',
    lotDateKind: 'best-before',
    shelfLifeDays: 540,
    ...kept(60),
  }),
  formula: {
    lines: [each('BLK-SO-OAT', '118 g'), each('BX-SOAP', 1, 'pack')],
    batchMin: 20,
    minutesBatch: 30,
    secondsUnit: 30,
    restDays: 28,
    steps: [
      { phase: 'fill', instruction: 'Gloves: fresh soap still burns. Cut the loaf, stand the bars apart on the rack.' },
      { phase: 'pack', instruction: 'After four weeks weigh and test a bar as your own procedure says, then box.' },
    ],
  },
};

const GIFT: Made = {
  item: {
    code: 'GIFT-HEARTH',
    name: 'Hearth gift set',
    kind: 'set',
    measure: 'counted',
    policy: 'to-stock',
    target: 6,
  },
  formula: {
    lines: [
      each('SP-SMOKE-100', 1, 'pack'),
      each('CA-FIG-120', 1, 'pack'),
      each('SO-OAT-110', 1, 'pack'),
      each('BX-GIFT', 1, 'pack'),
    ],
    batchMin: 2,
    minutesBatch: 10,
    secondsUnit: 120,
    steps: [
      { phase: 'pack', instruction: 'Wrap the bar, lay all three in tissue, close the box with the label inside.' },
    ],
  },
};

/** Sold in its season only, whose days are set when the workshop is loaded. */
export const SEASONAL_SPRAY = spray(['PINE', 'Resin and Pine', 100, 0]);

export const PRODUCTS: Made[] = [
  ...SPRAYS.map(spray),
  SEASONAL_SPRAY,
  ...MISTS.map(mist),
  ...CANDLES.map(candle),
  ...DIFFUSERS.map(diffuser),
  SOAP,
  GIFT,
];
