import type { z } from 'zod';
import type { formulaCreate } from '../catalog/formulas.schema.js';
import type { ItemRow } from './materials.js';

/** A made item with its formula. */
export interface Made {
  item: ItemRow;
  formula: z.input<typeof formulaCreate>;
}

type Steps = NonNullable<z.input<typeof formulaCreate>['steps']>;

const make = (...instructions: string[]): Steps => instructions.map((instruction) => ({ phase: 'make', instruction }));

const RULES = 'Follow the safety data sheets and the rules of your place; this note replaces neither.';

const ALCOHOL_CARE =
  'Alcohol and its vapour burn: no flame, no spark, no hot plate in the room, windows open, an extinguisher within ' +
  `reach, and no more on the bench than the day needs. ${RULES}`;

const WAX_CARE =
  'Hot wax burns skin and can catch fire: melt it in a water bath with a thermometer, never leave it alone, never put ' +
  `water on burning wax. ${RULES}`;

const LYE_CARE =
  'Lye burns eyes and skin. Goggles, gloves, long sleeves, fresh air, nobody else near. Pour the lye into the water, ' +
  `never the water into the lye. No aluminium: it gives off hydrogen. ${RULES}`;

const bulk = (code: string, name: string, rest: Partial<ItemRow>): ItemRow => ({
  code,
  name,
  kind: 'bulk',
  measure: 'weighed',
  ...rest,
});

const BASES: Made[] = [
  {
    item: bulk('BASE-SPRAY', 'Alcohol spray base', {
      family: 'base',
      density: '0.836 g/ml',
      flammable: true,
      shelfLifeDays: 540,
      policy: 'to-stock',
      target: '9 kg',
    }),
    formula: {
      lines: [
        { item: 'RM-ALCOHOL', basis: 'share', amount: '84 %' },
        { item: 'RM-WATER-DI', basis: 'qs' },
        { item: 'RM-GLYCERIN', basis: 'share', amount: '0.8 %' },
      ],
      vesselKind: 'kettle',
      batchMin: '4 kg',
      batchMultiple: '500 g',
      loss: '0.5 %',
      minutesBatch: 40,
      steps: make(
        ALCOHOL_CARE,
        'Weigh the alcohol into the kettle, then the glycerine, then the water, stirring slowly.',
        'Close, label with batch and date, and let it cool: mixing warms it a little and it shrinks.',
      ),
    },
  },
  {
    item: bulk('BASE-WATER', 'Water and solubiliser base', {
      family: 'base',
      density: '0.987 g/ml',
      shelfLifeDays: 120,
      policy: 'to-stock',
      target: '5 kg',
    }),
    formula: {
      lines: [
        { item: 'RM-ALCOHOL', basis: 'share', amount: '8 %' },
        { item: 'RM-HYD-LAV', basis: 'share', amount: '12 %' },
        { item: 'RM-SOLUB', basis: 'share', amount: '2 %' },
        { item: 'RM-PRESERV', basis: 'share', amount: '0.9 %' },
        { item: 'RM-WATER-DI', basis: 'qs' },
      ],
      vesselKind: 'kettle',
      batchMin: '3 kg',
      batchMultiple: '500 g',
      loss: '0.5 %',
      minutesBatch: 50,
      note: 'Have the preservation tested before selling: water grows things.',
      steps: make(
        ALCOHOL_CARE,
        'Clean kettle and tools with hot water, then alcohol; let them dry.',
        'Stir solubiliser and preservative into the alcohol, then the hydrosol, then the water.',
      ),
    },
  },
  {
    item: bulk('BASE-WAX', 'Candle wax blend', {
      family: 'base',
      shelfLifeDays: 540,
      policy: 'to-stock',
      target: '8 kg',
    }),
    formula: {
      lines: [
        { item: 'RM-SOY', basis: 'share', amount: '78 %' },
        { item: 'RM-COCOWAX', basis: 'share', amount: '17 %' },
        { item: 'RM-BEESWAX', basis: 'qs' },
      ],
      batchMin: '4 kg',
      batchMultiple: '500 g',
      loss: '1 %',
      minutesBatch: 35,
      steps: make(WAX_CARE, 'Melt together at 75 °C, stir until clear, pour into trays and break up when cold.'),
    },
  },
  {
    item: bulk('BASE-DIFF', 'Reed diffuser base', {
      family: 'base',
      density: '0.928 g/ml',
      flammable: true,
      shelfLifeDays: 720,
      policy: 'to-stock',
      target: '4 kg',
    }),
    formula: {
      lines: [
        { item: 'RM-ETHER', basis: 'share', amount: '76 %' },
        { item: 'RM-ESTER', basis: 'qs' },
      ],
      vesselKind: 'kettle',
      batchMin: '3 kg',
      batchMultiple: '500 g',
      minutesBatch: 30,
      steps: make(`The carrier burns: no flame, fresh air, gloves. ${RULES}`, 'Weigh both into the kettle and stir.'),
    },
  },
];

/** [scent, name, load in percent of the base, days it matures] */
const SPRAYS: [string, string, string, number][] = [
  ['CEDAR', 'Cedar and Slate', '5 %', 10],
  ['FIG', 'Green Fig Yard', '5 %', 10],
  ['SMOKE', 'Banked Fire', '4.5 %', 14],
  ['AMBER', 'Lamp Amber', '5.5 %', 14],
  ['SALT', 'Marsh Salt', '5 %', 10],
  ['PINE', 'Resin and Pine', '6 %', 7],
];

const spray = ([scent, name, load, restDays]: (typeof SPRAYS)[number]): Made => ({
  item: bulk(`BLK-SP-${scent}`, `${name} spray, bulk`, {
    family: 'spray',
    density: '0.842 g/ml',
    flammable: true,
    shelfLifeDays: 540,
  }),
  formula: {
    lines: [
      { item: 'BASE-SPRAY', basis: 'qs', isBase: true },
      { item: `FO-${scent}`, basis: 'load', amount: load },
    ],
    vesselKind: 'jug',
    batchMin: '1 kg',
    batchMultiple: '250 g',
    loss: '1 %',
    residue: '15 g',
    minutesBatch: 45,
    restDays,
    steps: make(
      ALCOHOL_CARE,
      'Weigh the base into the jug, then the fragrance; close and turn it over twenty times.',
      'Let it mature in the dark. Look at it on the last day: clear, no drops, no haze.',
    ),
  },
});

const MISTS: [string, string, string, number][] = [
  ['LINEN', 'Line-Dried Linen', '2 %', 7],
  ['LAV', 'Lavender Row', '1.5 %', 7],
  ['ROSE', 'Hedge Rose', '1.5 %', 7],
];

const mist = ([scent, name, load, restDays]: (typeof MISTS)[number]): Made => ({
  item: bulk(`BLK-MI-${scent}`, `${name} mist, bulk`, { family: 'body', density: '0.989 g/ml', shelfLifeDays: 240 }),
  formula: {
    lines: [
      { item: 'BASE-WATER', basis: 'qs', isBase: true },
      { item: `FO-${scent}`, basis: 'load', amount: load },
      { item: 'RM-SOLUB', basis: 'ratio', amount: 1, ratioOf: [2] },
    ],
    vesselKind: 'jug',
    batchMin: '1 kg',
    batchMultiple: '250 g',
    loss: '1 %',
    residue: '15 g',
    minutesBatch: 50,
    restDays,
    steps: make(
      'Stir the fragrance into the same weight of solubiliser until clear, then add the base slowly.',
      'Let it stand. On the last day it must be clear: a haze means more solubiliser, tried in a small glass first.',
    ),
  },
});

const CANDLES: [string, string, string][] = [
  ['FIG', 'Green Fig Yard', '8 %'],
  ['HONEY', 'Warm Honey Oat', '7 %'],
  ['TEA', 'Black Tea Steam', '8 %'],
  ['AMBER', 'Lamp Amber', '7.5 %'],
];

const candleWax = ([scent, name, load]: (typeof CANDLES)[number]): Made => ({
  item: bulk(`BLK-CA-${scent}`, `${name} candle wax`, { family: 'candle', shelfLifeDays: 30 }),
  formula: {
    lines: [
      { item: 'BASE-WAX', basis: 'qs', isBase: true },
      { item: `FO-${scent}`, basis: 'load', amount: load },
    ],
    vesselKind: 'melter',
    batchMin: '1.5 kg',
    batchMultiple: '250 g',
    loss: '1.5 %',
    residue: '40 g',
    minutesBatch: 40,
    steps: make(WAX_CARE, 'Melt at 75 °C, take off the heat, stir in the fragrance at 68 °C for two minutes.'),
  },
});

const DIFFUSERS: [string, string, string][] = [
  ['CEDAR', 'Cedar and Slate', '20 %'],
  ['PEAR', 'Quiet Pear', '22 %'],
  ['MOSS', 'Moss Wall', '20 %'],
  ['CITRUS', 'Sharp Peel', '25 %'],
];

const diffuser = ([scent, name, share]: (typeof DIFFUSERS)[number]): Made => ({
  item: bulk(`BLK-DI-${scent}`, `${name} diffuser, bulk`, {
    family: 'diffuser',
    density: '0.934 g/ml',
    flammable: true,
    shelfLifeDays: 540,
  }),
  formula: {
    lines: [
      { item: 'BASE-DIFF', basis: 'qs' },
      { item: `FO-${scent}`, basis: 'share', amount: share },
    ],
    vesselKind: 'jug',
    batchMin: '1 kg',
    batchMultiple: '250 g',
    loss: '0.5 %',
    residue: '10 g',
    minutesBatch: 35,
    restDays: 2,
    steps: make(
      `Carrier and fragrance burn: no flame, fresh air, gloves. ${RULES}`,
      'Weigh the base into the jug, then the fragrance; stir for three minutes, close, let it stand two days.',
    ),
  },
});

/** The lye is the maker's own figure, for their own oils: it is never worked out here. */
const SOAP: Made = {
  item: bulk('BLK-SO-OAT', 'Honey oat soap, loaf', { family: 'soap', shelfLifeDays: 60 }),
  formula: {
    lines: [
      { item: 'RM-OLIVE', basis: 'share', amount: '27.4 %', isBase: true },
      { item: 'RM-COCONUT', basis: 'share', amount: '16.4 %', isBase: true },
      { item: 'RM-SUNFLOWER', basis: 'share', amount: '12.6 %', isBase: true },
      { item: 'RM-SHEA', basis: 'share', amount: '8.2 %', isBase: true },
      { item: 'RM-LYE', basis: 'share', amount: '8.7 %' },
      { item: 'FO-HONEY', basis: 'load', amount: '3 %' },
      { item: 'RM-OATS', basis: 'load', amount: '2 %' },
      { item: 'RM-WATER', basis: 'qs' },
    ],
    vesselKind: 'mould',
    batchMin: '2.5 kg',
    batchMultiple: '100 g',
    loss: '1 %',
    minutesBatch: 90,
    restDays: 2,
    note: 'Cold process. Work the lye out anew, and have it checked, whenever an oil or its supplier changes.',
    steps: make(
      LYE_CARE,
      'Weigh lye and water apart. Stir the lye into the cold water little by little; let it clear and cool to 35 °C.',
      'Melt the hard fats, add the oils, bring them to 35 °C. Pour the lye in, stir to a light trace.',
      'Stir in fragrance and oats, pour into the mould, cover. Take it out after two days, still with gloves.',
    ),
  },
};

/** Bases first: a formula may only name what is there already. */
export const BULKS: Made[] = [
  ...BASES,
  ...SPRAYS.map(spray),
  ...MISTS.map(mist),
  ...CANDLES.map(candleWax),
  ...DIFFUSERS.map(diffuser),
  SOAP,
];
