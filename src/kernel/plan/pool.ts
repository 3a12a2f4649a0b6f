import { byExpiryOrder, type Supply } from './allocation.js';
import { type Day, dayOf } from '../measure/day.js';
import type { Model } from './model.js';
import { byText } from '../measure/text-order.js';

/** A lot, delivery or batch in the making, with what is left of it as the plan goes on. */
export interface PoolSupply extends Supply {
  kind: 'lot' | 'delivery' | 'making';
  /** Needed by batches whose day, and so whose lot, is not settled yet. */
  spokenFor: number;
}

/** What there is and what comes, by item, first expired first. */
export function buildPool(model: Model): Map<string, PoolSupply[]> {
  const pool = new Map<string, PoolSupply[]>();
  const { lots, deliveries, making } = model.snapshot;
  const until = (iso: string | null): Day => (iso === null ? Number.POSITIVE_INFINITY : dayOf(iso));
  const put = (item: string, supply: PoolSupply): void => {
    if (supply.quantity > 0) push(pool, item, supply);
  };
  for (const lot of [...lots].sort((a, b) => byText(a.code, b.code)))
    put(lot.item, {
      kind: 'lot',
      key: lot.code,
      quantity: lot.free,
      from: model.today,
      until: until(lot.expiresOn),
      arrived: true,
      spokenFor: 0,
    });
  for (const row of [...deliveries].sort((a, b) => byText(a.key, b.key)))
    // an overdue delivery counts for nothing until it has a new date
    if (dayOf(row.day) >= model.today)
      put(row.item, {
        kind: 'delivery',
        key: row.key,
        quantity: row.free,
        from: dayOf(row.day) + model.snapshot.workshop.receivingDays,
        until: until(row.expiresOn),
        arrived: false,
        spokenFor: 0,
      });
  for (const row of [...making].sort((a, b) => byText(a.code, b.code)))
    put(row.item, {
      kind: 'making',
      key: row.code,
      quantity: row.free,
      from: dayOf(row.readyOn),
      until: until(row.expiresOn),
      arrived: false,
      spokenFor: 0,
    });
  for (const supplies of pool.values()) supplies.sort(byExpiryOrder);
  return pool;
}

export function push<T>(map: Map<string, T[]>, key: string, value: T): void {
  const list = map.get(key);
  if (list) list.push(value);
  else map.set(key, [value]);
}

/** What can be taken of each item: copied once it is asked for, so that what is taken here is still there for others. */
export class Remaining {
  private readonly lists = new Map<string, PoolSupply[]>();

  /** `list` answers what there is of an item; it is copied. Those of which nothing is left are of no use. */
  constructor(
    private readonly list: (code: string) => readonly PoolSupply[],
    private readonly prepare: (supplies: PoolSupply[], code: string) => PoolSupply[],
  ) {}

  of(code: string): PoolSupply[] {
    let supplies = this.lists.get(code);
    if (!supplies) this.lists.set(code, (supplies = this.prepare(this.list(code).map(copyOf), code)));
    return supplies;
  }
}

/** Each by its name, which is ten times as quick. */
const copyOf = ({ kind, key, quantity, from, until, arrived, spokenFor }: PoolSupply): PoolSupply => ({
  kind,
  key,
  quantity,
  from,
  until,
  arrived,
  spokenFor,
});
