import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { addDays } from '../kernel/measure/day.js';
import { fisherTail } from '../kernel/trace/fisher.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import type { Suspect, SuspicionQuery, SuspicionView } from './complaint.schema.js';
import { COMPLAINED_LOTS } from './complaints.js';
import { lotsById } from './trace.service.js';
import { byText } from '../kernel/measure/text-order.js';
import { lookUp, walkEach } from './walk.js';

const COMPLAINTS_MAX = 200;
const PAIRS_MAX = 500_000;
const SHOWN_MAX = 50;

interface Complained {
  code: string;
  reportedOn: string;
  lotIds: number[];
}

/** What several complaints may have in common. */
@Injectable()
export class SuspicionService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * Single sources that would explain complaints: lots, deliveries, vessels and pour days that complained lots come of.
   * Each is judged by how probable it is that chance alone puts it into at least so many of the complained lots, among all
   * lots that were sold in the time. What is in everything explains nothing, and stands last. Throws a 404 problem.
   */
  async suspicion(query: SuspicionQuery): Promise<SuspicionView> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      await lookUp(tx);
      const complained = await complainedOf(tx, query.complaints?.split(',') ?? null);
      const last =
        complained
          .map(({ reportedOn }) => reportedOn)
          .sort()
          .at(-1) ?? today;
      const hit = new Set(complained.flatMap(({ lotIds }) => lotIds));
      const sold = await soldLots(tx, addDays(last, -query.days), last);
      for (const id of hit) sold.add(id);
      const behind = await walkEach(tx, 'back', [...hit], PAIRS_MAX);
      const sources = [...new Set(behind.map(({ id }) => id))];
      const ahead = await walkEach(tx, 'forward', sources, PAIRS_MAX);
      const marked = new Map<number, Set<number>>();
      for (const { start, id } of ahead) {
        if (!sold.has(id)) continue;
        const known = marked.get(start);
        if (known) known.add(id);
        else marked.set(start, new Set([id]));
      }
      const suspects = [
        ...(await lotSuspects(tx, sources, marked)),
        ...(await groupSuspects(tx, sources, marked)),
      ].flatMap((one) => judged(one, { complained, hit, sold }));
      return {
        complaints: complained.map(({ code }) => code),
        withoutLot: complained.filter(({ lotIds }) => lotIds.length === 0).map(({ code }) => code),
        lotsComplained: hit.size,
        lotsSold: sold.size,
        isWhole: behind.length <= PAIRS_MAX && ahead.length <= PAIRS_MAX,
        suspects: suspects.sort(byChance).slice(0, SHOWN_MAX),
      };
    });
  }
}

type Source = Pick<Suspect, 'kind' | 'code' | 'name' | 'item' | 'onHand' | 'status'> & { reaches: Set<number> };

/** Of those that chance explains as well, what explains more complaints, and what is nearer to them, stands first. */
const byChance = (a: Suspect, b: Suspect): number =>
  a.chance - b.chance || b.complaints.length - a.complaints.length || a.lotsIn - b.lotsIn || byText(a.code, b.code);

function judged(
  { reaches, ...source }: Source,
  of: { complained: readonly Complained[]; hit: Set<number>; sold: Set<number> },
): Suspect[] {
  const complaints = of.complained.filter(({ lotIds }) => lotIds.some((id) => reaches.has(id))).map(({ code }) => code);
  if (complaints.length === 0) return [];
  const hits = [...of.hit].filter((id) => reaches.has(id)).length;
  const chance = fisherTail({ population: of.sold.size, marked: reaches.size, drawn: of.hit.size, hits });
  return [{ ...source, complaints, lotsHit: hits, lotsIn: reaches.size, chance }];
}

async function lotSuspects(
  tx: EntityManager,
  ids: readonly number[],
  marked: ReadonlyMap<number, Set<number>>,
): Promise<Source[]> {
  const lots = await lotsById(tx, ids);
  return ids.flatMap((id) => {
    const reaches = marked.get(id);
    if (!reaches) return [];
    const { code, name, item, onHand, status } = lots.get(id)!;
    return [{ kind: 'lot', code, name, item, onHand, status, reaches } satisfies Source];
  });
}

/** What several of the sources have in common among themselves: a delivery, a vessel, a day. */
async function groupSuspects(
  tx: EntityManager,
  ids: readonly number[],
  marked: ReadonlyMap<number, Set<number>>,
): Promise<Source[]> {
  const rows = await tx.query<{ kind: 'delivery' | 'vessel' | 'day'; code: string; name: string; lotIds: number[] }[]>(
    `select 'delivery' as kind, d.code, s.name, array_agg(distinct m.lot_id) as "lotIds"
     from standing_movement m join delivery_line dl on dl.id = m.delivery_line_id join delivery d on d.id = dl.delivery_id
       join supplier s on s.id = d.supplier_id
     where m.lot_id = any($1::bigint[]) and m.cause = 'receipt' group by d.code, s.name
     union all
     select 'vessel', v.code, v.kind, array_agg(o.lot_id) from batch_output o join batch b on b.id = o.batch_id
       join vessel v on v.id = b.vessel_id
     where v.id in (select b.vessel_id from batch_output o join batch b on b.id = o.batch_id
       where o.lot_id = any($1::bigint[])) and o.kind = 'made' group by v.code, v.kind
     union all
     select 'day', b.day::text, '', array_agg(o.lot_id) from batch_output o join batch b on b.id = o.batch_id
     where b.day in (select b.day from batch_output o join batch b on b.id = o.batch_id
       where o.lot_id = any($1::bigint[])) and o.kind = 'made' group by b.day`,
    [ids],
  );
  // other lots from the same vessel or day are no sources themselves, so where they went is looked up once more
  const others = [...new Set(rows.flatMap(({ lotIds }) => lotIds))].filter((id) => !marked.has(id));
  const more = new Map<number, Set<number>>();
  const sold = new Set([...marked.values()].flatMap((reaches) => [...reaches]));
  if (others.length > 0)
    for (const { start, id } of await walkEach(tx, 'forward', others, PAIRS_MAX)) {
      const known = more.get(start);
      if (known) known.add(id);
      else more.set(start, new Set([id]));
    }
  const soldOthers = await soldAmong(tx, [...new Set([...more.values()].flatMap((ids_) => [...ids_]))]);
  return rows
    .filter(({ lotIds }) => lotIds.length > 1)
    .map(({ lotIds, ...group }) => {
      const reaches = new Set<number>();
      for (const id of lotIds) {
        for (const reached of marked.get(id) ?? []) reaches.add(reached);
        for (const reached of more.get(id) ?? [])
          if (soldOthers.has(reached) || sold.has(reached)) reaches.add(reached);
      }
      return { ...group, item: null, onHand: null, status: null, reaches };
    });
}

async function complainedOf(tx: EntityManager, codes: readonly string[] | null): Promise<Complained[]> {
  const rows = await tx.query<Complained[]>(
    `select c.code, c.reported_on as "reportedOn", coalesce(array_agg(distinct x.lot_id) filter (where x.lot_id is not null),
       '{}') as "lotIds"
     from complaint c left join (${COMPLAINED_LOTS}) x on x.complaint_id = c.id
     where case when $1::text[] is null then coalesce((select e.kind from complaint_entry e where e.complaint_id = c.id
         and e.kind in ('closed', 'reopened') order by e.id desc limit 1), '') <> 'closed'
       else c.code = any($1::text[]) end
     group by c.id order by c.code limit ${COMPLAINTS_MAX}`,
    [codes],
  );
  const missing = codes?.find((code) => !rows.some((row) => row.code === code));
  if (missing !== undefined) throw notFound('complaint', missing);
  return rows;
}

const SOLD = `select distinct m.lot_id as id from standing_movement m where m.cause = 'shipment'`;

async function soldLots(tx: EntityManager, from: string, to: string): Promise<Set<number>> {
  const rows = await tx.query<{ id: number }[]>(`${SOLD} and m.done_on between $1 and $2`, [from, to]);
  return new Set(rows.map(({ id }) => id));
}

async function soldAmong(tx: EntityManager, ids: readonly number[]): Promise<Set<number>> {
  const rows = await tx.query<{ id: number }[]>(`${SOLD} and m.lot_id = any($1::bigint[])`, [ids]);
  return new Set(rows.map(({ id }) => id));
}
