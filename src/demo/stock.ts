/** A lot on the shelf when the demonstration starts. */
export interface DemoLot {
  item: string;
  /** What is left of it, in the item's unit. */
  left: string | number;
  cameDaysAgo: number;
  /** Days after the planned week's first on which it is last usable; left out, the item's shelf life decides. */
  lastDay?: number;
  place?: string;
}

const lots = (
  place: string,
  rows: [item: string, left: string | number, cameDaysAgo: number, lastDay?: number][],
): DemoLot[] => rows.map(([item, left, cameDaysAgo, lastDay]) => ({ item, left, cameDaysAgo, lastDay, place }));

export const LOTS: DemoLot[] = [
  ...lots('scent cupboard', [
    ['FO-CEDAR', '340 g', 240],
    ['FO-CEDAR', '1.81 kg', 30],
    ['FO-FIG', '1.2 kg', 120],
    ['FO-SMOKE', '980 g', 95],
    ['FO-AMBER', '1.1 kg', 150],
    ['FO-SALT', '870 g', 60],
    ['FO-PINE', '620 g', 200],
    ['FO-LINEN', '410 g', 170],
    ['FO-LAV', '520 g', 80],
    // bought for a summer that never came, and good for six more weeks
    ['FO-ROSE', '1.35 kg', 322, 42],
    ['FO-HONEY', '760 g', 110],
    ['FO-TEA', '230 g', 190],
    ['FO-PEAR', '2.1 kg', 45],
    // needs of two weeks: this lot is past its day before the second
    ['FO-MOSS', '85 g', 260],
    ['FO-CITRUS', '310 g', 356, 9],
    ['FO-CITRUS', '1.81 kg', 40],
  ]),
  ...lots('flammables cabinet', [
    ['RM-ALCOHOL', '36.4 kg', 20],
    ['RM-ETHER', '15.3 kg', 50],
    ['RM-ESTER', '4.4 kg', 50],
  ]),
  ...lots('dry store', [
    ['RM-WATER-DI', '31 kg', 12],
    ['RM-HYD-LAV', '5.4 kg', 90],
    ['RM-SOLUB', '1.9 kg', 100],
    ['RM-PRESERV', '430 g', 130],
    ['RM-GLYCERIN', '900 g', 160],
    ['RM-SOY', '18.2 kg', 70],
    ['RM-SOY', '4.5 kg', 250],
    ['RM-COCOWAX', '5.1 kg', 70],
    ['RM-BEESWAX', '1.7 kg', 200],
    ['RM-OLIVE', '7.8 kg', 45],
    ['RM-COCONUT', '5.2 kg', 45],
    ['RM-SUNFLOWER', '4.1 kg', 45],
    ['RM-SHEA', '2.4 kg', 80],
    ['RM-LYE', '2.6 kg', 60],
    ['RM-OATS', '430 g', 60],
  ]),
  ...lots('packaging rack', [
    ['BT-030', 190, 100],
    ['BT-060', 168, 100],
    ['BT-100', 470, 60],
    ['BT-250', 61, 60],
    ['PM-18', 360, 100],
    ['PM-24', 560, 60],
    ['TIN-120', 118, 80],
    ['JAR-220', 96, 80],
    ['DB-100', 236, 80],
    ['ST-DB', 260, 80],
    ['REED', 1720, 140],
    ['WICK-S', 160, 140],
    ['WICK-L', 170, 140],
    ['LB-SPRAY', 780, 120],
    ['LB-MIST', 640, 120],
    ['LB-CANDLE', 520, 120],
    ['LB-WARN', 900, 120],
    ['LB-DIFF', 410, 120],
    ['BX-SOAP', 240, 90],
    ['BX-GIFT', 22, 90],
  ]),
  ...lots('drums', [
    ['BASE-SPRAY', '7.4 kg', 25],
    ['BASE-WATER', '2.9 kg', 30],
    ['BASE-WAX', '3.5 kg', 20],
    ['BASE-DIFF', '3.2 kg', 35],
    ['BLK-SP-CEDAR', '6.6 kg', 24],
    ['BLK-SP-FIG', '5.3 kg', 19],
    ['BLK-SP-SMOKE', '4.4 kg', 31],
    ['BLK-SP-SALT', '7.9 kg', 16],
    ['BLK-SP-PINE', '900 g', 60],
    ['BLK-MI-LINEN', '13.8 kg', 14],
    ['BLK-MI-LAV', '5.8 kg', 21],
    ['BLK-MI-ROSE', '1.2 kg', 33],
  ]),
  ...lots('finished goods', [
    ['SP-CEDAR-100', 21, 12],
    ['SP-CEDAR-250', 9, 12],
    ['SP-FIG-100', 17, 26],
    ['SP-FIG-030', 26, 26],
    ['SP-SMOKE-100', 19, 40],
    ['SP-SALT-100', 14, 9],
    ['SP-SALT-250', 7, 9],
    ['SP-PINE-100', 8, 300],
    ['MI-LINEN-060', 23, 18],
    ['MI-LINEN-250', 12, 18],
    ['MI-LAV-060', 21, 30],
    ['MI-LAV-100', 15, 30],
    ['MI-ROSE-100', 13, 44],
    ['CA-FIG-120', 34, 28],
    ['CA-FIG-220', 14, 28],
    ['CA-HONEY-220', 13, 35],
    ['CA-TEA-120', 41, 22],
    ['CA-TEA-220', 12, 22],
    ['CA-AMBER-220', 9, 50],
    ['DI-CEDAR-100', 11, 20],
    ['DI-PEAR-100', 10, 15],
    ['DI-CITRUS-100', 4, 60],
    ['SO-OAT-110', 52, 48],
    ['GIFT-HEARTH', 3, 20],
  ]),
];

/** Use in the last four weeks, which is what the next weeks are judged by. */
export const USED: [item: string, in28Days: string | number][] = [
  ['FO-CEDAR', '420 g'],
  ['FO-FIG', '510 g'],
  ['FO-SMOKE', '230 g'],
  ['FO-AMBER', '180 g'],
  ['FO-SALT', '260 g'],
  ['FO-LINEN', '120 g'],
  ['FO-LAV', '90 g'],
  ['FO-ROSE', '55 g'],
  ['FO-HONEY', '240 g'],
  ['FO-TEA', '310 g'],
  ['FO-MOSS', '160 g'],
  ['FO-CITRUS', '210 g'],
  ['RM-ETHER', '3.1 kg'],
  ['RM-SOLUB', '260 g'],
  ['RM-PRESERV', '60 g'],
  ['RM-COCOWAX', '1.6 kg'],
  ['RM-BEESWAX', '480 g'],
  ['BT-030', 60],
  ['BT-060', 70],
  ['BT-100', 190],
  ['BT-250', 36],
  ['JAR-220', 48],
  ['TIN-120', 40],
  ['DB-100', 44],
];

/** What is on its way. Day after the planned week's first on which it should come. */
export const DELIVERIES: {
  code: string;
  supplier: string;
  day: number;
  lines: { item: string; pack: string; packs: number }[];
}[] = [
  {
    code: 'PO-311',
    supplier: 'BRINDLE',
    day: 2,
    lines: [
      { item: 'FO-TEA', pack: 'TEA-1LB', packs: 2 },
      { item: 'FO-LINEN', pack: 'LINEN-4OZ', packs: 3 },
    ],
  },
  {
    code: 'PO-314',
    supplier: 'PENNY',
    day: 8,
    lines: [
      { item: 'BT-250', pack: 'B250-48', packs: 2 },
      { item: 'JAR-220', pack: 'J220-24', packs: 4 },
    ],
  },
];

/** Largest part of the finished product in percent, as the invented supplier's certificates would have it. */
export const USE_LIMITS: [item: string, category: string, percent: number][] = [
  ['FO-LINEN', 'body mist', 3.2],
  ['FO-LAV', 'body mist', 2.4],
  ['FO-ROSE', 'body mist', 1.6],
  ['FO-CEDAR', 'room spray', 18],
  ['FO-FIG', 'candle', 100],
];

export const VESSELS: { code: string; kind: string; capacity: string }[] = [
  { code: 'KETTLE-20', kind: 'kettle', capacity: '20 kg' },
  { code: 'KETTLE-12', kind: 'kettle', capacity: '12 kg' },
  ...Array.from({ length: 14 }, (_, i) => ({
    code: `JUG-${String(i + 1).padStart(2, '0')}`,
    kind: 'jug',
    capacity: '8 kg',
  })),
  { code: 'MELTER-12', kind: 'melter', capacity: '12 kg' },
  { code: 'MELTER-6', kind: 'melter', capacity: '6 kg' },
  ...Array.from({ length: 4 }, (_, i) => ({ code: `MOULD-${i + 1}`, kind: 'mould', capacity: '3.4 kg' })),
];
