import { Injectable } from '@nestjs/common';
import { dayOf, isoOf } from '../kernel/day.js';
import { project } from '../kernel/demand.js';
import { choosePacks } from '../kernel/packs.js';
import type { Proposal } from '../kernel/proposal.js';
import type { Snapshot, SnapshotItem } from '../kernel/snapshot.js';
import { comingMonday, proposalFrom } from '../planning/planning.service.js';
import { SnapshotService } from '../planning/snapshot.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import type { ReorderList, ReorderRow } from './reorder.schema.js';

/** Days until the list is looked at again: what is ordered today must last until then too. */
const REVIEW_DAYS = 7;

type Named = { name: string; family: string; measure: 'weighed' | 'counted' };

/** What to buy, how much, by which day. */
@Injectable()
export class ReorderService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly snapshots: SnapshotService,
  ) {}

  /** Every bought item that will run out within its lead time and the days until the next look; soonest order first. */
  async list(): Promise<ReorderList> {
    const today = await this.clock.today();
    const { taken, names } = await this.database.read(async (tx) => {
      const read = await this.snapshots.take(tx, today, comingMonday(today));
      const rows = await tx.query<(Named & { code: string })[]>('select code, name, family, measure from item');
      return { taken: read, names: new Map(rows.map((row) => [row.code, row])) };
    });
    const proposal = proposalFrom(taken);
    const { snapshot } = taken;
    const known = knownOf(snapshot, proposal);
    const rows = snapshot.items
      .filter((item) => item.kind === 'material' && item.stocked && item.policy !== 'discontinued')
      .map((item) => rowFor(item, names.get(item.code)!, known))
      .filter((row) => row.runsOutOn !== null)
      .sort((a, b) => compare(a.orderBy ?? '', b.orderBy ?? '') || compare(a.item, b.item));
    return { today, rows };
  }
}

/** The snapshot and what is planned from it, by item. */
interface Known {
  snapshot: Snapshot;
  packs: Map<string, Snapshot['packs']>;
  deliveries: Map<string, Snapshot['deliveries']>;
  lots: Map<string, Snapshot['lots']>;
  needs: Map<string, Proposal['needs'][number]>;
  use: Map<string, Snapshot['use'][number]>;
}

function knownOf(snapshot: Snapshot, proposal: Proposal): Known {
  return {
    snapshot,
    packs: byItem(snapshot.packs),
    deliveries: byItem(snapshot.deliveries),
    lots: byItem(snapshot.lots),
    needs: new Map(proposal.needs.map((row) => [row.item, row])),
    use: new Map(snapshot.use.map((row) => [row.item, row])),
  };
}

function byItem<Row extends { item: string }>(rows: readonly Row[]): Map<string, Row[]> {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const group = groups.get(row.item);
    if (group) group.push(row);
    else groups.set(row.item, [row]);
  }
  return groups;
}

function rowFor(item: SnapshotItem, named: Named, known: Known): ReorderRow {
  const { snapshot } = known;
  const today = dayOf(snapshot.today);
  const packs = known.packs.get(item.code) ?? [];
  const { receivingDays } = snapshot.workshop;
  const leadDays = Math.max(0, ...packs.map((pack) => pack.leadDays)) + receivingDays;
  const needs = (known.needs.get(item.code)?.byDay ?? []).map((need) => ({
    day: dayOf(need.day),
    quantity: need.quantity,
  }));
  const coming = (known.deliveries.get(item.code) ?? [])
    .filter((row) => row.day >= snapshot.today)
    .map((row) => ({ day: dayOf(row.day) + receivingDays, quantity: row.free }));
  const free = (known.lots.get(item.code) ?? [])
    .filter((lot) => lot.expiresOn === null || lot.expiresOn >= snapshot.today)
    .reduce((sum, lot) => sum + lot.free, 0);
  const keep = item.policy === 'to-stock' ? item.target : 0;
  const { runsOutOn, wanted, expectedUse, freeByDay } = project({
    today,
    free,
    coming,
    needs,
    reserved: [],
    expiring: [],
    weekly: [(known.use.get(item.code)?.per28Days ?? 0) / 4],
    windowDays: leadDays + REVIEW_DAYS + 1,
    keep,
    until: today + leadDays + REVIEW_DAYS,
  });
  const choice = wanted > 0 && packs.length > 0 ? choosePacks(wanted, packs) : null;
  const chosenLead = Math.max(0, ...(choice?.packs ?? []).map(({ key }) => packs.find((p) => p.key === key)!.leadDays));
  const orderBy = runsOutOn !== null && choice ? runsOutOn - receivingDays - chosenLead : null;
  return {
    item: item.code,
    name: named.name,
    family: named.family,
    measure: named.measure,
    free,
    onTheWay: coming.reduce((sum, row) => sum + row.quantity, 0),
    expectedUse,
    keep,
    freeByDay,
    runsOutOn: runsOutOn === null ? null : isoOf(runsOutOn),
    wanted,
    orderBy: orderBy === null ? null : isoOf(orderBy),
    overdue: orderBy !== null && orderBy < today,
    packs: choice?.packs ?? [],
    packsTotal: choice?.total ?? 0,
    costE4: choice?.costE4 ?? 0,
    gapE4: choice?.gapE4 ?? 0,
  };
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
