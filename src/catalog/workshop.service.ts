import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { sqlStateOf } from '../platform/sql-state.js';
import { invalid, notFound } from '../platform/problem.js';
import { AMOUNT_MAX, positiveAmountOf } from './amount.js';
import type { ClosedDayCreate, VesselCreate, VesselView, WorkshopPut, WorkshopView } from './workshop.schema.js';
import { ClosedDay, Vessel, Workshop } from './workshop.entity.js';

const WEIGHED = { measure: 'weighed' } as const;

/** Until its owner has said anything: what the columns of the table default to, under a name that says so. */
export const UNNAMED: Omit<Workshop, 'id'> = {
  name: 'Workshop',
  timeZone: 'UTC',
  currency: 'USD',
  units: 'metric',
  benchMinutes: [480, 480, 480, 480, 480, 0, 0],
  slackDays: 1,
  receivingDays: 1,
  scaleStepMg: 100,
  scaleLeastMg: 500,
  labourRateE4: null,
  lossTolerancePpb: 20_000_000,
  weighTolerancePpb: 10_000_000,
  isBestBeforeOfMaterials: false,
  planTerms: [],
  isDemo: false,
};

/** How the workshop works: its hours, its scale, its vessels. */
@Injectable()
export class WorkshopService {
  constructor(private readonly database: Database) {}

  get(): Promise<WorkshopView> {
    return this.database.read(async (tx) => workshopViewOf(await workshopOf(tx)));
  }

  put(who: string, body: WorkshopPut): Promise<WorkshopView> {
    return this.database.act({ who }, async (tx) => workshopViewOf(await putWorkshop(tx, body)));
  }

  vessels(): Promise<{ vessels: VesselView[] }> {
    return this.database.read(async (tx) => ({
      vessels: (await tx.find(Vessel, { order: { code: 'ASC' } })).map(vesselViewOf),
    }));
  }

  addVessel(who: string, body: VesselCreate): Promise<VesselView> {
    return this.database.act({ who }, async (tx) => vesselViewOf(await addVessel(tx, body)));
  }

  closedDays(): Promise<{ closedDays: ClosedDay[] }> {
    return this.database.read(async (tx) => ({ closedDays: await tx.find(ClosedDay, { order: { day: 'ASC' } }) }));
  }

  /** Closes a day; said again, the newer reason stands. */
  close(who: string, body: ClosedDayCreate): Promise<ClosedDayCreate> {
    return this.database.act({ who }, async (tx) => {
      await tx.query(
        `insert into closed_day (day, why) values ($1, $2)
         on conflict (day) do update set why = excluded.why, created_by = acting_person(), created_at = now()`,
        [body.day, body.why],
      );
      return body;
    });
  }

  open(who: string, day: string): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const { affected } = await tx.delete(ClosedDay, { day });
      if (affected !== 1) throw notFound('closed day', day);
    });
  }
}

/** The workshop's settings, or the defaults where nothing was set yet. */
export async function workshopOf(tx: EntityManager): Promise<Omit<Workshop, 'id'>> {
  return (await tx.findOneBy(Workshop, { id: 1 })) ?? UNNAMED;
}

/** Writes all settings. `isDemo` marks the invented workshop and stays as it is when left out. */
export async function putWorkshop(tx: EntityManager, body: WorkshopPut, isDemo?: boolean): Promise<Workshop> {
  const { scaleStep, scaleLeast, bestBeforeOfMaterials, ...plain } = body;
  const scaleStepMg = positiveAmountOf(scaleStep, WEIGHED, '/scaleStep');
  const scaleLeastMg = positiveAmountOf(scaleLeast, WEIGHED, '/scaleLeast');
  if (scaleLeastMg < scaleStepMg)
    throw invalid('/scaleLeast', 'The smallest weight cannot be finer than the step of the scale.');
  if (scaleLeastMg > AMOUNT_MAX / 1000) throw invalid('/scaleLeast', 'No scale of a workshop is as coarse as that.');
  await refuseUnknownZone(tx, body.timeZone);
  const before = await workshopOf(tx);
  const row: Workshop = {
    ...plain,
    id: 1,
    scaleStepMg,
    scaleLeastMg,
    labourRateE4: body.labourRateE4 === undefined ? before.labourRateE4 : body.labourRateE4,
    lossTolerancePpb: body.lossTolerancePpb ?? before.lossTolerancePpb,
    weighTolerancePpb: body.weighTolerancePpb ?? before.weighTolerancePpb,
    isBestBeforeOfMaterials: bestBeforeOfMaterials ?? before.isBestBeforeOfMaterials,
    planTerms: body.planTerms ?? before.planTerms,
    isDemo: isDemo ?? before.isDemo,
  };
  await tx.query(
    `insert into workshop (id, name, time_zone, currency, bench_minutes, slack_days, receiving_days, scale_step_mg,
       scale_least_mg, is_demo, units, labour_rate_e4, loss_tolerance_ppb, weigh_tolerance_ppb,
       is_best_before_of_materials, plan_terms)
       values (1, $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)
     on conflict (id) do update set name = excluded.name, time_zone = excluded.time_zone, currency = excluded.currency,
       bench_minutes = excluded.bench_minutes, slack_days = excluded.slack_days,
       receiving_days = excluded.receiving_days, scale_step_mg = excluded.scale_step_mg,
       scale_least_mg = excluded.scale_least_mg, is_demo = excluded.is_demo, units = excluded.units,
       labour_rate_e4 = excluded.labour_rate_e4, loss_tolerance_ppb = excluded.loss_tolerance_ppb,
       weigh_tolerance_ppb = excluded.weigh_tolerance_ppb,
       is_best_before_of_materials = excluded.is_best_before_of_materials, plan_terms = excluded.plan_terms,
       updated_by = acting_person(), updated_at = now()`,
    [
      row.name,
      row.timeZone,
      row.currency,
      row.benchMinutes,
      row.slackDays,
      row.receivingDays,
      scaleStepMg,
      scaleLeastMg,
      row.isDemo,
      row.units,
      row.labourRateE4,
      row.lossTolerancePpb,
      row.weighTolerancePpb,
      row.isBestBeforeOfMaterials,
      row.planTerms,
    ],
  );
  return row;
}

/** The day is asked of the database, so it too must know the zone. */
async function refuseUnknownZone(tx: EntityManager, timeZone: string): Promise<void> {
  try {
    await tx.query('select now() at time zone $1', [timeZone]);
  } catch (error) {
    if (sqlStateOf(error) !== '22023') throw error;
    throw invalid('/timeZone', `The database does not know the time zone ${timeZone}.`);
  }
}

export async function addVessel(tx: EntityManager, body: VesselCreate): Promise<Vessel> {
  const capacityMg = positiveAmountOf(body.capacity, WEIGHED, '/capacity');
  const vessel = tx.create(Vessel, { code: body.code, kind: body.kind, capacityMg });
  await tx.insert(Vessel, vessel);
  return vessel;
}

function workshopViewOf(row: Omit<Workshop, 'id'>): WorkshopView {
  return {
    name: row.name,
    timeZone: row.timeZone,
    currency: row.currency,
    units: row.units,
    benchMinutes: row.benchMinutes,
    slackDays: row.slackDays,
    receivingDays: row.receivingDays,
    scaleStep: row.scaleStepMg,
    scaleLeast: row.scaleLeastMg,
    labourRateE4: row.labourRateE4,
    lossTolerancePpb: row.lossTolerancePpb,
    weighTolerancePpb: row.weighTolerancePpb,
    bestBeforeOfMaterials: row.isBestBeforeOfMaterials,
    planTerms: row.planTerms,
    isDemo: row.isDemo,
  };
}

function vesselViewOf(row: Vessel): VesselView {
  return { code: row.code, kind: row.kind, capacity: row.capacityMg };
}
