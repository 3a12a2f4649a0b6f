import type { ProposedBatch, Proposal, SizeLimit, Taken } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotFormula } from '../../src/kernel/plan/snapshot.js';
import { fullFaults } from './plan-full-checker.js';
import { hasPeopleFor, longestOf, peopleFaults, peoplesMinutes } from './people-checker.js';
import { firstTaken, goesAsItComes, goesWith, leavesOn, sendsFaults } from './sends-checker.js';
import { mostBefore, washingFaults } from './washing-checker.js';

/*
 * What must be true of a plan, by arithmetic of its own over the rows: nothing here comes from the planner but its answer.
 * Days are whole days since 1970.
 */

const MS_A_DAY = 86_400_000;
const dayOf = (iso: string): number => Date.parse(`${iso}T00:00:00Z`) / MS_A_DAY;
/** 1 January 1970 was a Thursday; Monday is 0. */
const weekday = (day: number): number => (((day + 3) % 7) + 7) % 7;

/** Sentences that say what is wrong with a plan; none when all of it holds. */
export function faultsOf(shop: Snapshot, plan: Proposal): string[] {
  return [
    ...vesselFaults(shop, plan),
    ...minuteFaults(shop, plan),
    ...supplyFaults(shop, plan),
    ...batchFaults(plan),
    ...sizeFaults(shop, plan),
    ...lifeFaults(shop, plan),
    ...lineFaults(shop, plan),
    ...reasonFaults(shop, plan),
    ...fullFaults(shop, plan),
    ...washingFaults(shop, plan),
    ...peopleFaults(shop, plan),
    ...sendsFaults(shop, plan, suppliesOf(shop, plan)),
  ];
}

type Dated = ProposedBatch & { day: string; readyOn: string; emptiedOn: string };
const dated = ({ batches }: Proposal): Dated[] => batches.filter((batch): batch is Dated => batch.day !== null);

interface Stay {
  vessel: string;
  from: number;
  to: number;
  who: string;
}

function stays(shop: Snapshot, plan: Proposal): Stay[] {
  const today = dayOf(shop.today);
  return [
    ...shop.making
      .filter(({ vessel }) => vessel !== null)
      .map(({ code, vessel, day, emptiedOn }) => ({
        vessel: vessel!,
        from: dayOf(day),
        to: Math.max(dayOf(emptiedOn), today),
        who: code,
      })),
    ...dated(plan)
      .filter(({ vessel }) => vessel !== null)
      .map(({ key, vessel, day, emptiedOn }) => ({
        vessel: vessel!,
        from: dayOf(day),
        to: dayOf(emptiedOn),
        who: key,
      })),
  ];
}

function vesselFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  for (const held of grouped(stays(shop, plan), ({ vessel }) => vessel).values())
    held.forEach((a, i) => {
      for (const b of held.slice(i + 1))
        if (a.from <= b.to && b.from <= a.to) faults.push(`${a.vessel} holds ${a.who} and ${b.who} at once`);
    });
  const vessels = new Map(shop.vessels.map((vessel) => [vessel.code, vessel]));
  const kinds = new Map(shop.formulas.map(({ item, vesselKind }) => [item, vesselKind]));
  for (const batch of dated(plan)) {
    const kind = kinds.get(batch.item)!;
    if ((batch.vessel === null) !== (kind === null))
      faults.push(`${batch.key} is in ${batch.vessel} and needs ${kind}`);
    const vessel = batch.vessel === null ? undefined : vessels.get(batch.vessel)!;
    if (vessel && vessel.kind !== kind) faults.push(`${batch.key} is in ${vessel.code}, which is no ${kind}`);
    if (vessel && vessel.capacityMg < batch.putInMg) faults.push(`${batch.key} does not fit into ${vessel.code}`);
    if (batch.vessel !== null && batch.emptiedOn < batch.readyOn)
      faults.push(`${batch.key} is emptied before it is ready`);
  }
  return faults;
}

const openMinutes = (shop: Snapshot, day: number): number =>
  peoplesMinutes(shop, day) ??
  (shop.workshop.closedDays.some((closed) => dayOf(closed) === day) ? 0 : shop.workshop.benchMinutes[weekday(day)]!);

/** Minutes of each day that batches have, those of earlier plans and of this one, and what washing adds to the earlier. */
function minutesUsed(shop: Snapshot, plan: Proposal): Map<number, number> {
  const used = new Map<number, number>();
  const rewashed = (plan.rewashed ?? []).map(({ day, more }) => ({ day, minutes: more }));
  for (const { day, minutes } of [...shop.making, ...dated(plan), ...rewashed])
    used.set(dayOf(day), (used.get(dayOf(day)) ?? 0) + minutes);
  return used;
}

function minuteFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const used = minutesUsed(shop, plan);
  for (const batch of dated(plan)) {
    const day = dayOf(batch.day);
    if (openMinutes(shop, day) === 0) faults.push(`${batch.key} is on ${batch.day}, which is closed`);
    if (batch.minutes > 0 && used.get(day)! > openMinutes(shop, day))
      faults.push(`${batch.day} has ${used.get(day)} minutes`);
    if (day < Math.max(dayOf(shop.today), dayOf(shop.weekStart))) faults.push(`${batch.key} is before the plan begins`);
  }
  for (const { batch, day } of plan.rewashed ?? [])
    if (used.get(dayOf(day))! > openMinutes(shop, dayOf(day))) faults.push(`${day} has no room to wash for ${batch}`);
  for (const { day, minutesUsed: said } of plan.days)
    if (said !== (used.get(dayOf(day)) ?? 0)) faults.push(`${day} has ${used.get(dayOf(day))} minutes, not ${said}`);
  return faults;
}

/** From when, until when and how much of everything that can be taken. */
function suppliesOf(shop: Snapshot, plan: Proposal): Map<string, { from: number; until: number; quantity: number }> {
  const until = (iso: string | null): number => (iso === null ? Number.POSITIVE_INFINITY : dayOf(iso));
  return new Map([
    ...shop.lots.map(
      ({ code, free, expiresOn }) =>
        [`lot ${code}`, { from: dayOf(shop.today), until: until(expiresOn), quantity: free }] as const,
    ),
    ...shop.deliveries.map(
      ({ key, free, day, expiresOn }) =>
        [
          `delivery ${key}`,
          { from: dayOf(day) + shop.workshop.receivingDays, until: until(expiresOn), quantity: free },
        ] as const,
    ),
    ...shop.making.map(
      ({ code, free, readyOn, expiresOn }) =>
        [`making ${code}`, { from: dayOf(readyOn), until: until(expiresOn), quantity: free }] as const,
    ),
    ...dated(plan).map(
      ({ key, output, readyOn, expiresOn }) =>
        [`batch ${key}`, { from: dayOf(readyOn), until: until(expiresOn), quantity: output }] as const,
    ),
  ]);
}

function supplyFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const supplies = suppliesOf(shop, plan);
  const take = (who: string, { from, key, quantity }: Taken, on: number, goodUntil: number): void => {
    const supply = supplies.get(`${from} ${key}`);
    if (!supply) return void faults.push(`${who} takes of ${from} ${key}, which is not there`);
    supply.quantity -= quantity;
    if (quantity <= 0) faults.push(`${who} takes ${quantity} of ${key}`);
    if (supply.quantity < 0) faults.push(`${from} ${key} is given away twice`);
    if (on < supply.from) faults.push(`${who} takes of ${key} before it is there`);
    if (supply.until < goodUntil) faults.push(`${who} takes of ${key} after its date`);
  };
  for (const batch of dated(plan))
    for (const input of batch.inputs)
      for (const taken of input.taken) take(batch.key, taken, dayOf(input.needOn!), dayOf(input.needOn!));
  const owed = new Map(shop.items.map(({ code, owedLifeDays }) => [code, owedLifeDays]));
  for (const line of plan.lines)
    for (const taken of line.taken) {
      // what waits for nothing else ships on its day, late as it may be
      const ships = leavesOn(shop, line);
      const supply = supplies.get(`${taken.from} ${taken.key}`);
      const on = goesAsItComes(shop, line) ? Math.max(ships, supply?.from ?? 0) : ships;
      take(line.key, taken, on, on + owed.get(line.item)!);
    }
  return faults;
}

function batchFaults(plan: Proposal): string[] {
  const faults: string[] = [];
  for (const batch of plan.batches) {
    const given = batch.madeFor.reduce((sum, { quantity }) => sum + quantity, 0);
    if (given !== batch.output) faults.push(`${batch.key} makes ${batch.output} and is for ${given}`);
    if ((batch.day === null) !== (batch.readyOn === null)) faults.push(`${batch.key} has half a date`);
    if (batch.day !== null && dayOf(batch.readyOn!) !== dayOf(batch.day) + batch.restDays)
      faults.push(`${batch.key} does not rest ${batch.restDays} days`);
    if (batch.day === null && batch.heldUpBy === null) faults.push(`${batch.key} has no day and no reason`);
    for (const input of batch.inputs) {
      const taken = input.taken.reduce((sum, { quantity }) => sum + quantity, 0);
      if (!batch.short && batch.day !== null && input.stocked && taken !== input.quantity)
        faults.push(`${batch.key} wants ${input.quantity} of ${input.item} and has ${taken}`);
    }
  }
  return faults;
}

function lineFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const supplies = suppliesOf(shop, plan);
  const batches = new Map(plan.batches.map((batch) => [batch.key, batch]));
  for (const line of plan.lines) {
    const goes = new Set(goesWith(shop, line.key).map(({ key }) => key));
    const taken = line.taken.reduce((sum, { quantity }) => sum + quantity, 0);
    if (taken + line.missing !== line.quantity) faults.push(`${line.key} does not add up`);
    const ready = Math.max(
      dayOf(shop.today),
      firstTaken(shop, line),
      ...plan.lines
        .filter(({ key }) => goes.has(key) || key === line.key)
        .flatMap(({ taken: of }) => of)
        .map(({ from, key }) => supplies.get(`${from} ${key}`)!.from),
    );
    if (line.missing === 0 && dayOf(line.readyOn!) !== ready)
      faults.push(`${line.key} is not ready on ${line.readyOn}`);
    if (line.missing > 0 && line.readyOn !== null) faults.push(`${line.key} is ready and not covered`);
    const late = line.missing === 0 ? Math.max(0, ready - dayOf(line.shipBy)) : 0;
    if (line.lateDays !== late) faults.push(`${line.key} is ${late} days late, not ${line.lateDays}`);
    if ((late > 0 || line.missing > 0) !== (line.because !== null))
      faults.push(`${line.key} gives ${line.because} as a reason`);
    for (const { from, key } of line.taken)
      if (from === 'batch' && batches.get(key)!.short) faults.push(`${line.key} is promised ${key}, which is short`);
  }
  return faults;
}

const upTo = (quantity: number, step: number): number => Math.ceil(quantity / step) * step;

/** The weight that has to go in for so much to come out, in whole steps of the scale. */
function putIn(shop: Snapshot, { residueMg, lossPpb }: SnapshotFormula, output: number): number {
  const [wanted, kept] = [BigInt(output + residueMg) * 1_000_000_000n, 1_000_000_000n - BigInt(lossPpb)];
  return upTo(Number((wanted + kept - 1n) / kept), shop.workshop.scaleStepMg);
}

/** What does not allow a batch of so much; empty where one can be made. */
function limitsBroken(shop: Snapshot, item: string, output: number): SizeLimit[] {
  const formula = shop.formulas.find((row) => row.item === item)!;
  const weight = putIn(shop, formula, output);
  const broken: SizeLimit[] = [];
  if (formula.batchMax !== null && output > formula.batchMax) broken.push('formula');
  const most = Math.max(0, ...shop.vessels.filter(({ kind }) => kind === formula.vesselKind).map((v) => v.capacityMg));
  if (formula.vesselKind !== null && weight > most) broken.push('vessel');
  const minutes = formula.minutesBatch + Math.ceil((output * formula.secondsUnit) / 60);
  const washing = formula.secondsUnit > 0 ? mostBefore(shop, item, formula.vesselKind) : 0;
  if (minutes + washing > longestOf(shop)) broken.push('bench');
  if (minutes + washing > longestOf(shop, formula.skill)) broken.push('people');
  for (const { item: part, basis, amount } of formula.lines) {
    const source = shop.formulas.find((row) => row.item === part);
    if (!source?.vesselKind || basis === 'fixed' || amount === 0) continue;
    const isWeighed = shop.items.find(({ code }) => code === part)!.measure === 'weighed';
    const drawn =
      basis === 'part'
        ? upTo(Number((BigInt(weight) * BigInt(amount)) / 1_000_000_000n), shop.workshop.scaleStepMg)
        : isWeighed
          ? putIn(shop, formula, output * amount)
          : output * amount;
    if (limitsBroken(shop, part, upTo(drawn, source.batchMultiple)).length > 0) broken.push('source');
  }
  return broken;
}

/** A batch is as large as its formula asks for, or says what does not let it be. */
function sizeFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  for (const { key, item, output, belowLeast } of plan.batches) {
    const { batchMin, batchMultiple } = shop.formulas.find((row) => row.item === item)!;
    if (output % batchMultiple !== 0) faults.push(`${key} makes ${output}, not in steps of ${batchMultiple}`);
    if (output < batchMin !== (belowLeast !== null))
      faults.push(`${key} makes ${output}, at least ${batchMin}, and says ${belowLeast}`);
    if (belowLeast && !limitsBroken(shop, item, upTo(batchMin, batchMultiple)).includes(belowLeast))
      faults.push(`${key} makes less than ${batchMin}, and ${belowLeast} would allow it`);
  }
  return faults;
}

/** What is made has its own last day, and what is not made for want of life has not enough of it. */
function lifeFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const items = new Map(shop.items.map((item) => [item.code, item]));
  const sourcesOf = sourcesByBatch(plan);
  for (const batch of plan.batches) {
    const life = items.get(batch.item)!.shelfLifeDays;
    const last = batch.day === null || life === null ? null : dayOf(batch.day) + life;
    if ((batch.expiresOn === null ? null : dayOf(batch.expiresOn)) !== last)
      faults.push(`${batch.key} is good until ${batch.expiresOn}, not ${last}`);
    if (batch.heldUpBy === 'expires' && batch.day !== null) faults.push(`${batch.key} is too late and has a day`);
    const sources = sourcesOf.get(batch.key) ?? [];
    const isFromMaking = shop.making.some(({ item, expiresOn }) =>
      batch.inputs.some((input) => input.item === item && expiresOn !== null),
    );
    if (batch.heldUpBy === 'expires' && !isFromMaking && !sources.some(({ expiresOn }) => expiresOn !== null))
      faults.push(`${batch.key} says that what it is made of expires, and it keeps`);
  }
  for (const line of plan.lines) {
    const { shelfLifeDays, owedLifeDays } = items.get(line.item)!;
    const rest = shop.formulas.find(({ item }) => item === line.item)?.restDays ?? 0;
    const isNeverFresh = shelfLifeDays !== null && shelfLifeDays < rest + owedLifeDays;
    if (line.because === 'never-fresh' && !isNeverFresh) faults.push(`${line.key} could be fresh`);
    if (isNeverFresh && line.taken.some(({ from }) => from === 'batch'))
      faults.push(`${line.key} is made, never fresh`);
  }
  return faults;
}

/** The batches that are made for each batch. */
function sourcesByBatch({ batches }: Proposal): Map<string, ProposedBatch[]> {
  const links = batches.flatMap((batch) => {
    const consumers = batch.madeFor.filter((peg) => peg.for === 'batch').map(({ key }) => key);
    return [...new Set(consumers)].map((consumer) => ({ consumer, batch }));
  });
  const byConsumer = grouped(links, ({ consumer }) => consumer);
  return new Map([...byConsumer].map(([key, rows]) => [key, rows.map(({ batch }) => batch)]));
}

function grouped<Row>(rows: readonly Row[], keyOf: (row: Row) => string): Map<string, Row[]> {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const group = groups.get(keyOf(row));
    if (group) group.push(row);
    else groups.set(keyOf(row), [row]);
  }
  return groups;
}

/** What is said to have kept a batch from its day really does. */
const wasShown = ({ shown }: Snapshot, { item, day, vessel }: ProposedBatch): boolean =>
  (shown?.pours ?? []).some((pour) => pour.item === item && pour.day === day && pour.vessel === vessel);

function reasonFaults(shop: Snapshot, plan: Proposal): string[] {
  const faults: string[] = [];
  const used = minutesUsed(shop, plan);
  const begins = Math.max(dayOf(shop.today), dayOf(shop.weekStart));
  const supplies = suppliesOf(shop, plan);
  const sourcesOf = sourcesByBatch(plan);
  for (const batch of dated(plan)) {
    const comes = comesOf(supplies, sourcesOf.get(batch.key) ?? [], batch);
    const first = Math.max(begins, freshFrom(shop, plan, batch), ...comes.map(({ from }) => from));
    const latest = dayOf(batch.latestDay);
    if (batch.heldUpBy === 'delivery' || batch.heldUpBy === 'source') {
      if (first <= latest)
        faults.push(`${batch.key} says it waits, and could begin on ${first}, in time for ${latest}`);
      const kinds = comes.filter(({ from }) => from > latest && from > begins);
      if (!kinds.some(({ kind }) => (kind === 'delivery') === (batch.heldUpBy === 'delivery')))
        faults.push(`${batch.key} waits for no ${batch.heldUpBy}`);
    }
    const fresh = freshFrom(shop, plan, batch);
    if (batch.heldUpBy === 'fresh' && (fresh <= Math.max(latest, begins) || fresh < first))
      faults.push(`${batch.key} says it is made no sooner to keep, and would keep from ${fresh} on`);
    if (batch.heldUpBy === 'skill-full')
      for (let day = first; day < dayOf(batch.day); day++)
        if (hasPeopleFor(shop, plan, day, batch))
          faults.push(`${batch.key} says that who may make it is busy, and day ${day} has room`);
    if (batch.heldUpBy === 'as-shown' && !wasShown(shop, batch))
      faults.push(`${batch.key} says it stays where it was shown, and was shown elsewhere`);
    if (batch.heldUpBy !== 'bench-full') continue;
    for (let day = first; day < dayOf(batch.day); day++)
      if (openMinutes(shop, day) > 0 && openMinutes(shop, day) - (used.get(day) ?? 0) >= batch.minutes && day >= first)
        faults.push(`${batch.key} says the bench is full, and day ${day} has room`);
  }
  return faults;
}

/** The first day from which a batch keeps until the orders it is for go. */
function freshFrom(shop: Snapshot, plan: Proposal, batch: Dated): number {
  const { shelfLifeDays, owedLifeDays } = shop.items.find(({ code }) => code === batch.item)!;
  if (shelfLifeDays === null) return 0;
  const goes = plan.lines
    .filter(({ key }) => batch.madeFor.some((peg) => peg.for === 'line' && peg.key === key))
    .map((line) => leavesOn(shop, line));
  return Math.max(0, ...goes.map((day) => day + owedLifeDays - shelfLifeDays));
}

/** When what a batch takes is there, as far as its day depends on it. */
function comesOf(
  supplies: ReturnType<typeof suppliesOf>,
  sources: readonly ProposedBatch[],
  batch: Dated,
): { kind: Taken['from']; from: number }[] {
  const made = sources
    .filter(({ readyOn }) => readyOn !== null)
    .map(({ readyOn }) => ({ kind: 'batch' as const, from: dayOf(readyOn!) }));
  const taken = batch.inputs.flatMap((input) =>
    input.taken.map(({ from: kind, key }) => ({
      kind,
      from: supplies.get(`${kind} ${key}`)!.from - (input.step === 'pack' ? batch.restDays : 0),
    })),
  );
  return [...made, ...taken];
}

/** A shop in which exactly what the plan calls short has been bought, and is there on the day it says. */
export function withShortBought(shop: Snapshot, plan: Proposal): Snapshot {
  const bought = plan.shortfalls
    .filter(({ item }) => shop.items.some(({ code, kind }) => code === item && kind === 'material'))
    .map(({ item, quantity, needOn }, n) => ({
      key: `BOUGHT-${n}`,
      item,
      free: quantity,
      day: isoOf(Math.max(dayOf(shop.today), dayOf(needOn) - shop.workshop.receivingDays)),
      expiresOn: null,
    }));
  return { ...shop, deliveries: [...shop.deliveries, ...bought] };
}

const isoOf = (day: number): string => new Date(day * MS_A_DAY).toISOString().slice(0, 10);
