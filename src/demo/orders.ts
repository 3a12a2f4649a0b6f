import { seededRandom } from './random.js';

export interface DemoLine {
  item: string;
  quantity: number;
}

export interface DemoOrder {
  channel: 'webshop' | 'market' | 'wholesale';
  number: string;
  customer: string;
  /** Days before today. */
  placedDaysAgo: number;
  /** Days after the planned week's first. */
  shipByDay: number;
  notBeforeDay: number | null;
  isPaid: boolean;
  lines: DemoLine[];
}

export const CHANNELS = [
  { code: 'webshop', name: 'Own web shop', promiseDays: 5 },
  { code: 'market', name: 'Market stall', promiseDays: 7 },
  { code: 'wholesale', name: 'Shops and cafés', promiseDays: 14 },
];

const GIVEN = [
  'Ada',
  'Bram',
  'Cleo',
  'Dov',
  'Edda',
  'Finn',
  'Greta',
  'Hal',
  'Ines',
  'Jory',
  'Kit',
  'Lena',
  'Milo',
  'Nell',
];
const FAMILY = [
  'Ashdown',
  'Birkett',
  'Callow',
  'Dunmore',
  'Elverby',
  'Farrow',
  'Garside',
  'Holloway',
  'Ivens',
  'Marrick',
];
const SHOPS = [
  'The Corner Larder',
  'Hayloft Books and Gifts',
  'Millrace Café',
  'Tide and Timber',
  'The Potting Bench',
  'Underhill Guest House',
  'Two Doors Down',
  'Saltbox Interiors',
];

/** What sells, the more often the oftener it is named. Candles and soap rest so long that they are sold from stock. */
const SOLD_ONLINE = [
  'SP-CEDAR-100', 'SP-CEDAR-100', 'SP-FIG-100', 'SP-FIG-100', 'SP-FIG-030', 'SP-SMOKE-100', 'SP-SALT-100', 'SP-SALT-250',
  'SP-CEDAR-250', 'MI-LINEN-060', 'MI-LINEN-250', 'MI-LAV-060', 'MI-LAV-100', 'MI-ROSE-100', 'CA-FIG-120', 'CA-FIG-220',
  'CA-TEA-120', 'CA-HONEY-220', 'CA-AMBER-220', 'DI-CEDAR-100', 'DI-PEAR-100', 'SO-OAT-110', 'SO-OAT-110', 'GIFT-HEARTH',
]; // oxfmt-ignore
const SOLD_AT_MARKET = [
  'SP-FIG-030',
  'MI-LINEN-060',
  'MI-LAV-060',
  'CA-TEA-120',
  'CA-FIG-120',
  'SO-OAT-110',
  'SP-SALT-100',
];
const SOLD_TO_SHOPS = [
  'SP-CEDAR-100', 'SP-FIG-100', 'SP-SMOKE-100', 'SP-SALT-100', 'SP-SALT-250', 'MI-LINEN-250', 'MI-LAV-100', 'DI-CEDAR-100',
  'DI-PEAR-100',
]; // oxfmt-ignore
/** Candles for shops are only promised for after a cure. */
const SOLD_TO_SHOPS_LATER = ['CA-FIG-220', 'CA-TEA-120', 'CA-TEA-220', 'CA-HONEY-220', 'CA-AMBER-220', 'SP-AMBER-100'];
const CURED_BY_DAY = 17;

/** The orders the demonstration is about: each shows one thing a plan must say. */
const TELLING: DemoOrder[] = [
  // nothing of it is in stock and it matures for fourteen days
  shopOrder('W-2301', 'Tide and Timber', 3, 4, [{ item: 'SP-AMBER-100', quantity: 18 }]),
  // its fragrance is nearly gone and none is on the way
  shopOrder('W-2302', 'Hayloft Books and Gifts', 2, 18, [{ item: 'DI-MOSS-100', quantity: 40 }]),
  // the first empties the lot that expires first, the second comes when that one is past its day
  shopOrder('W-2303', 'Saltbox Interiors', 6, 8, [{ item: 'DI-CITRUS-100', quantity: 30 }]),
  shopOrder('W-2304', 'The Potting Bench', 1, 20, [{ item: 'DI-CITRUS-100', quantity: 24 }]),
  shopOrder('W-2305', 'Millrace Café', 4, 10, [{ item: 'MI-ROSE-060', quantity: 12 }]),
];

function shopOrder(number: string, customer: string, ago: number, shipByDay: number, lines: DemoLine[]): DemoOrder {
  const notBeforeDay = shipByDay > 6 ? shipByDay - 4 : null;
  return { channel: 'wholesale', number, customer, placedDaysAgo: ago, shipByDay, notBeforeDay, isPaid: true, lines };
}

/** Three weeks of orders, the same every time. */
export function demoOrders(): DemoOrder[] {
  const below = seededRandom(0x1a9e);
  const pick = <T>(list: readonly T[]): T => list[below(list.length)]!;
  const lines = (count: number, from: readonly string[], quantity: () => number): DemoLine[] => {
    const items = new Set<string>();
    while (items.size < count) items.add(pick(from));
    return [...items].map((item) => ({ item, quantity: quantity() }));
  };
  const orders: DemoOrder[] = [...TELLING];
  for (let i = 0; i < 38; i++)
    orders.push({
      channel: 'webshop',
      number: `#${4170 + i}`,
      customer: `${pick(GIVEN)} ${pick(FAMILY)}`,
      placedDaysAgo: Math.max(0, 7 - Math.floor(i / 5)),
      shipByDay: 1 + Math.floor(i / 2.7),
      notBeforeDay: null,
      // the newest few are not paid yet
      isPaid: i < 35,
      lines: lines(1 + below(3), SOLD_ONLINE, () => 1 + below(2)),
    });
  for (let week = 0; week < 3; week++)
    for (const stall of ['Friday square', 'Saturday quay', 'Sunday green'])
      orders.push({
        channel: 'market',
        number: `${stall.split(' ')[0]}-${week + 1}`,
        customer: `${stall} stall`,
        placedDaysAgo: below(10),
        shipByDay: 7 * week + 4,
        notBeforeDay: null,
        isPaid: true,
        lines: lines(3 + below(2), SOLD_AT_MARKET, () => 2 + below(5)),
      });
  for (let i = 0; i < 14; i++) {
    const shipByDay = 7 + i;
    const from =
      shipByDay < CURED_BY_DAY ? SOLD_TO_SHOPS : [...SOLD_TO_SHOPS, ...SOLD_TO_SHOPS_LATER, ...SOLD_TO_SHOPS_LATER];
    orders.push(
      shopOrder(
        `W-${2306 + i}`,
        pick(SHOPS),
        below(14),
        shipByDay,
        lines(2 + below(3), from, () => 6 * (1 + below(3))),
      ),
    );
  }
  return orders;
}
