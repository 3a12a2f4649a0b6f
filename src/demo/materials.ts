import type { z } from 'zod';
import type { itemCreate } from '../catalog/items.schema.js';
import type { packCreate, supplierCreate } from '../purchasing/purchasing.schema.js';

export type ItemRow = z.input<typeof itemCreate>;
export type PackRow = z.input<typeof packCreate>;

/** Everything in these files is invented; no supplier, scent or shop of these names is meant. */
export const SUPPLIERS: z.input<typeof supplierCreate>[] = [
  { code: 'BRINDLE', name: 'Brindlemoor Aromatics', ...terms('brindlemoor', 9.5, 250) },
  { code: 'MARLPIT', name: 'Marl Pit Laboratory Supply', ...terms('marlpit', 14, 400) },
  { code: 'SALLOW', name: 'Sallowfield Oils and Butters', ...terms('sallowfield', 12) },
  { code: 'KETTLE', name: 'Kettlehill Wax and Wick', ...terms('kettlehill', 11, 150) },
  { code: 'PENNY', name: 'Pennyquick Packaging', ...terms('pennyquick', 16, 300) },
];

/** What a parcel costs, and from which worth of goods on nothing, in currency units. The names end in what no mail reaches (RFC 2606). */
function terms(name: string, freight: number, freeFrom?: number) {
  return {
    email: `orders@${name}.example`,
    freightE4: freight * 10_000,
    freightFreeFromE4: freeFrom === undefined ? null : freeFrom * 10_000,
  };
}

/** A pack as its supplier lists it: code, size, price in currency units, days until it arrives, fewest packs sold. */
type Offer = [code: string, size: string | number, price: number, leadDays: number, leastPacks?: number];

interface Material {
  item: ItemRow;
  supplier: string;
  offers: Offer[];
}

/** [code, name, density, price of a gram, keeps for days, days until it arrives] */
const FRAGRANCES: [string, string, string, number, number, number][] = [
  ['CEDAR', 'Cedar and Slate', '0.957 g/ml', 0.094, 540, 16],
  ['FIG', 'Green Fig Yard', '0.981 g/ml', 0.112, 540, 16],
  ['SMOKE', 'Banked Fire', '1.018 g/ml', 0.105, 720, 16],
  ['AMBER', 'Lamp Amber', '1.034 g/ml', 0.131, 720, 21],
  ['SALT', 'Marsh Salt', '0.972 g/ml', 0.118, 540, 16],
  ['PINE', 'Resin and Pine', '0.925 g/ml', 0.088, 365, 16],
  ['LINEN', 'Line-Dried Linen', '0.966 g/ml', 0.091, 540, 16],
  ['LAV', 'Lavender Row', '0.892 g/ml', 0.149, 365, 12],
  ['ROSE', 'Hedge Rose', '0.989 g/ml', 0.172, 365, 21],
  ['HONEY', 'Warm Honey Oat', '1.041 g/ml', 0.108, 540, 16],
  ['TEA', 'Black Tea Steam', '1.006 g/ml', 0.121, 540, 16],
  ['PEAR', 'Quiet Pear', '0.984 g/ml', 0.099, 540, 16],
  ['MOSS', 'Moss Wall', '0.995 g/ml', 0.127, 540, 6],
  ['CITRUS', 'Sharp Peel', '0.871 g/ml', 0.103, 365, 12],
];

function fragrance([scent, name, density, price, keepsDays, leadDays]: (typeof FRAGRANCES)[number]): Material {
  // a pack is cheaper by the gram the larger it is
  const priced = (grams: number, discount: number) => Math.round(grams * price * discount * 100) / 100;
  return {
    item: {
      code: `FO-${scent}`,
      name: `${name} fragrance`,
      kind: 'material',
      measure: 'weighed',
      family: 'fragrance',
      density,
      shelfLifeDays: keepsDays,
      flammable: true,
      quarantinedOnArrival: scent === 'ROSE',
    },
    supplier: 'BRINDLE',
    offers: [
      [`${scent}-4OZ`, '118 ml', priced(118, 1.35), leadDays],
      [`${scent}-1LB`, '454 g', priced(454, 1.1), leadDays],
      [`${scent}-4LB`, '1.81 kg', priced(1810, 0.92), leadDays + 2],
    ],
  };
}

const weighed = (code: string, name: string, rest: Partial<ItemRow> = {}): ItemRow => ({
  code: `RM-${code}`,
  name,
  kind: 'material',
  measure: 'weighed',
  ...rest,
});

const RAW: Material[] = [
  {
    item: weighed('ALCOHOL', 'Denatured alcohol', { density: '0.807 g/ml', flammable: true, heel: '150 g' }),
    supplier: 'MARLPIT',
    offers: [
      ['ALC-5L', '5 l', 46.5, 5],
      ['ALC-20L', '20 l', 158, 5],
    ],
  },
  {
    item: weighed('WATER-DI', 'Distilled water', { density: '0.998 g/ml', shelfLifeDays: 180 }),
    supplier: 'MARLPIT',
    offers: [['DIW-20L', '20 l', 19.8, 3, 2]],
  },
  { item: weighed('WATER', 'Filtered tap water', { stocked: false }), supplier: 'MARLPIT', offers: [] },
  {
    item: weighed('HYD-LAV', 'Lavender hydrosol', { density: '1.0 g/ml', shelfLifeDays: 300 }),
    supplier: 'SALLOW',
    offers: [['HYL-1KG', '1 kg', 11.4, 8]],
  },
  {
    item: weighed('SOLUB', 'Solubiliser', { density: '1.05 g/ml', shelfLifeDays: 720 }),
    supplier: 'MARLPIT',
    offers: [
      ['SOL-500', '500 g', 14.9, 6],
      ['SOL-2500', '2.5 kg', 61, 6],
    ],
  },
  {
    item: weighed('PRESERV', 'Preservative blend', { density: '1.1 g/ml', shelfLifeDays: 540 }),
    supplier: 'MARLPIT',
    offers: [['PRS-250', '250 g', 18.2, 6]],
  },
  {
    item: weighed('GLYCERIN', 'Vegetable glycerine', { density: '1.26 g/ml', shelfLifeDays: 720 }),
    supplier: 'SALLOW',
    offers: [['GLY-1KG', '1.26 kg', 9.3, 7]],
  },
  {
    item: weighed('ETHER', 'Glycol ether carrier', { density: '0.951 g/ml', flammable: true, heel: '100 g' }),
    supplier: 'MARLPIT',
    offers: [['GLE-5KG', '4.75 kg', 52.4, 7]],
  },
  {
    item: weighed('ESTER', 'Light ester', { density: '0.853 g/ml', shelfLifeDays: 720 }),
    supplier: 'MARLPIT',
    offers: [['EST-1KG', '1 kg', 17.8, 7]],
  },
  {
    item: weighed('SOY', 'Soy wax flakes', { shelfLifeDays: 720 }),
    supplier: 'KETTLE',
    offers: [
      ['SOY-10LB', '4.54 kg', 31.9, 9],
      ['SOY-50LB', '22.7 kg', 129, 9],
    ],
  },
  {
    item: weighed('COCOWAX', 'Coconut wax', { shelfLifeDays: 720 }),
    supplier: 'KETTLE',
    offers: [['COW-4LB', '1.81 kg', 22.6, 9]],
  },
  { item: weighed('BEESWAX', 'Beeswax pellets'), supplier: 'KETTLE', offers: [['BEE-1LB', '454 g', 12.7, 9]] },
  {
    item: weighed('OLIVE', 'Olive oil', { shelfLifeDays: 540, lotDateKind: 'best-before' }),
    supplier: 'SALLOW',
    offers: [['OLV-5KG', '4.6 kg', 38.5, 7]],
  },
  {
    item: weighed('COCONUT', 'Coconut oil', { shelfLifeDays: 720, lotDateKind: 'best-before' }),
    supplier: 'SALLOW',
    offers: [['COC-2KG', '2 kg', 13.2, 7]],
  },
  {
    item: weighed('SUNFLOWER', 'Sunflower oil', { shelfLifeDays: 365, lotDateKind: 'best-before' }),
    supplier: 'SALLOW',
    offers: [['SUN-5L', '4.6 kg', 16.9, 7]],
  },
  {
    item: weighed('SHEA', 'Shea butter', { shelfLifeDays: 540, lotDateKind: 'best-before' }),
    supplier: 'SALLOW',
    offers: [['SHE-1KG', '1 kg', 12.8, 7]],
  },
  { item: weighed('LYE', 'Sodium hydroxide'), supplier: 'MARLPIT', offers: [['NAO-1KG', '1 kg', 9.6, 5]] },
  {
    item: weighed('OATS', 'Ground oats', { shelfLifeDays: 365 }),
    supplier: 'SALLOW',
    offers: [['OAT-500', '500 g', 4.1, 7]],
  },
];

const counted = (code: string, name: string, family: 'container' | 'label' | 'other' = 'container'): ItemRow => ({
  code,
  name,
  kind: 'material',
  measure: 'counted',
  family,
});

const box = (item: ItemRow, code: string, size: number, price: number, leadDays = 10): Material => ({
  item,
  supplier: 'PENNY',
  offers: [[code, size, price, leadDays]],
});

const PACKAGING: Material[] = [
  box(counted('BT-030', 'Spray bottle 30 ml'), 'B30-112', 112, 48.2),
  box(counted('BT-060', 'Spray bottle 60 ml'), 'B60-112', 112, 56),
  box(counted('BT-100', 'Spray bottle 100 ml'), 'B100-48', 48, 31.7),
  box(counted('BT-250', 'Spray bottle 250 ml'), 'B250-48', 48, 39.4),
  box(counted('PM-18', 'Mist pump, small neck'), 'P18-112', 112, 33.6),
  box(counted('PM-24', 'Mist pump, wide neck'), 'P24-48', 48, 19.2),
  box(counted('TIN-120', 'Candle tin 120 g'), 'T120-48', 48, 36),
  box(counted('JAR-220', 'Candle jar 220 g'), 'J220-24', 24, 34.8),
  box(counted('DB-100', 'Diffuser bottle 100 ml'), 'D100-24', 24, 29.5),
  box(counted('ST-DB', 'Diffuser stopper'), 'S-48', 48, 11),
  box(counted('REED', 'Rattan reed', 'other'), 'R-500', 500, 27.5),
  { ...box(counted('WICK-S', 'Wick, tin', 'other'), 'WS-100', 100, 9.8), supplier: 'KETTLE' },
  { ...box(counted('WICK-L', 'Wick, jar', 'other'), 'WL-100', 100, 12.4), supplier: 'KETTLE' },
  box(counted('LB-SPRAY', 'Label, room spray', 'label'), 'LSP-500', 500, 45, 7),
  box(counted('LB-MIST', 'Label, mist', 'label'), 'LMI-500', 500, 45, 7),
  box(counted('LB-CANDLE', 'Label, candle', 'label'), 'LCA-500', 500, 45, 7),
  box(counted('LB-WARN', 'Burning instructions', 'label'), 'LWA-1000', 1000, 38, 7),
  box(counted('LB-DIFF', 'Label, diffuser', 'label'), 'LDI-500', 500, 45, 7),
  box(counted('BX-SOAP', 'Soap carton'), 'XS-100', 100, 24),
  box(counted('BX-GIFT', 'Gift box with tissue'), 'XG-25', 25, 41),
];

const MATERIALS: Material[] = [...FRAGRANCES.map(fragrance), ...RAW, ...PACKAGING];

export const MATERIAL_ITEMS: ItemRow[] = MATERIALS.map(({ item }) => item);

export const PACKS: PackRow[] = MATERIALS.flatMap(({ item, supplier, offers }) =>
  offers.map(([code, size, price, leadDays, leastPacks]) => ({
    supplier,
    item: item.code,
    code,
    size,
    priceE4: Math.round(price * 10_000),
    leadDays,
    leastPacks: leastPacks ?? 1,
  })),
);
