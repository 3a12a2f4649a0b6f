import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import { positiveAmountOf, weightOf } from './amount.js';
import { CURRENT_FORMULAS } from './current-formulas.js';
import { Formula, FormulaLine, FormulaStep } from './formula.entity.js';
import { refuseCircle } from './circle.js';
import type { FormulaCreate, FormulaSummary, FormulaView } from './formulas.schema.js';
import { Item } from './item.entity.js';
import { itemByCode } from './items.service.js';
import { readLines } from './lines.js';
import { Vessel } from './workshop.entity.js';

/** A plan looks at who may do one or another of them, for all there are. */
const SKILLS_MAX = 8;

/** How made items are made: the versions of their formulas. */
@Injectable()
export class FormulasService {
  constructor(private readonly database: Database) {}

  /** The versions of one item, newest first. */
  list(code: string): Promise<{ formulas: FormulaSummary[] }> {
    return this.database.read(async (tx) => {
      return { formulas: await summariesOf(tx, await itemByCode(tx, code)) };
    });
  }

  get(id: number): Promise<FormulaView> {
    return this.database.read((tx) => formulaViewById(tx, id));
  }

  create(who: string, code: string, body: FormulaCreate): Promise<FormulaView> {
    return this.database.act({ who }, async (tx) => formulaViewById(tx, await addFormula(tx, code, body)));
  }
}

/** One writer of formulas at a time: two at once could each close half of a circle, or take the same version. */
export async function lockFormulas(tx: EntityManager): Promise<void> {
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.formulas'))`);
}

/**
 * Adds the next version of an item's formula, which is from then on the current one; answers its id.
 * Throws 422 problems: a material, lines that cannot be read or solved, a circle through other items' formulas.
 */
export async function addFormula(tx: EntityManager, code: string, body: FormulaCreate): Promise<number> {
  await lockFormulas(tx);
  const item = await itemByCode(tx, code);
  if (item.kind === 'material') throw invalid('/lines', `${code} is a material: it is bought, not made.`, 'not-made');
  if (item.kind === 'set' && (body.vesselKind ?? null) !== null)
    throw invalid('/vesselKind', 'A set is packed from products and needs no vessel.');
  if (item.kind === 'set' && (body.restDays ?? 0) > 0) throw invalid('/restDays', 'A set does not rest.');
  const head = batchAmounts(item, body);
  if (body.vesselKind) await refuseWithoutVessel(tx, body.vesselKind, head.residueMg);
  if (body.skill) await refuseTooManySkills(tx, item, body.skill);
  const lines = await readLines(tx, body.lines, item.kind);
  await refuseCircle(tx, item, lines);
  const last = await tx.maximum(Formula, 'version', { itemId: item.id });
  const formula = tx.create(Formula, {
    ...head,
    itemId: item.id,
    version: (last ?? 0) + 1,
    withdrawn: false,
    vesselKind: body.vesselKind ?? null,
    lossPpb: body.loss ?? 0,
    minutesBatch: body.minutesBatch ?? 0,
    secondsUnit: body.secondsUnit ?? 0,
    restDays: body.restDays ?? 0,
    skill: body.skill ?? null,
    note: body.note ?? '',
  });
  await tx.insert(Formula, formula);
  await tx.insert(
    FormulaLine,
    lines.map(({ item: part, ...line }) => ({ ...line, formulaId: formula.id, itemId: part.id })),
  );
  const steps = body.steps ?? [];
  if (steps.length > 0)
    await tx.insert(
      FormulaStep,
      steps.map((step, index) => ({ ...step, formulaId: formula.id, position: index + 1 })),
    );
  return formula.id;
}

function batchAmounts(item: Item, body: FormulaCreate) {
  const batchMin = positiveAmountOf(body.batchMin, item, '/batchMin');
  const stated = body.batchMax ?? null;
  const batchMax = stated === null ? null : positiveAmountOf(stated, item, '/batchMax');
  if (batchMax !== null && batchMax < batchMin)
    throw invalid('/batchMax', 'The largest batch cannot be smaller than the smallest.');
  const batchMultiple = positiveAmountOf(body.batchMultiple ?? 1, item, '/batchMultiple');
  if (batchMax !== null && batchMultiple > batchMax)
    throw invalid('/batchMultiple', 'No batch up to the largest is a multiple of this.');
  const residueMg = body.residue === undefined ? 0 : weightOf(body.residue, '/residue');
  return { batchMin, batchMax, batchMultiple, residueMg };
}

/** Throws a 422 problem where no vessel is of this kind, or all that is put into the largest would stay in it. */
async function refuseWithoutVessel(tx: EntityManager, kind: string, residueMg: number): Promise<void> {
  const vessels = await tx.find(Vessel, { order: { kind: 'ASC' } });
  const largestMg = Math.max(0, ...vessels.filter((vessel) => vessel.kind === kind).map((vessel) => vessel.capacityMg));
  if (largestMg === 0) {
    const kinds = [...new Set(vessels.map((vessel) => vessel.kind))].join(', ');
    const known = kinds === '' ? 'There is no vessel yet: add one first.' : `There are: ${kinds}.`;
    throw invalid('/vesselKind', `No vessel is a ${kind}. ${known}`, 'no-such-vessel');
  }
  if (residueMg >= largestMg)
    throw invalid('/residue', `As much as the largest ${kind} holds would stay in it, and nothing come out.`);
}

/** Throws a 422 problem where the current formulas would ask for more different skills than a plan can keep apart. */
async function refuseTooManySkills(tx: EntityManager, item: Item, skill: string): Promise<void> {
  const others = await tx.query<{ skill: string }[]>(
    `select distinct skill from ${CURRENT_FORMULAS} f
     where item_id <> $1 and skill is not null and skill <> $2 order by skill`,
    [item.id, skill],
  );
  if (others.length < SKILLS_MAX) return;
  const known = others.map((row) => row.skill).join(', ');
  throw invalid(
    '/skill',
    `Formulas ask for ${SKILLS_MAX} different skills at most, and do: ${known}.`,
    'too-many-skills',
  );
}

/** The versions of an item, newest first. */
export async function summariesOf(tx: EntityManager, item: Item): Promise<FormulaSummary[]> {
  const versions = await tx.find(Formula, { where: { itemId: item.id }, order: { version: 'DESC' } });
  const current = versions.find((version) => !version.withdrawn);
  return versions.map((version) => summaryOf(version, item.code, version === current));
}

/** One formula with its lines and steps. Throws a 404 problem. */
export async function formulaViewById(tx: EntityManager, id: number): Promise<FormulaView> {
  const formula = await formulaById(tx, id);
  const item = await tx.findOneByOrFail(Item, { id: formula.itemId });
  const lines = await linesOf(tx, id);
  const steps = await tx.find(FormulaStep, { where: { formulaId: id }, order: { position: 'ASC' } });
  const newest = await tx.maximum(Formula, 'version', { itemId: item.id, withdrawn: false });
  return {
    ...summaryOf(formula, item.code, !formula.withdrawn && formula.version === newest),
    lines: lines.map(({ line, item: part }) => ({
      line: line.position,
      item: part.code,
      basis: line.basis,
      amount: line.amount,
      isBase: line.isBase,
      ratioOf: line.ratioOf,
      step: line.step,
      partPpb: line.partPpb,
    })),
    steps: steps.map(({ phase, instruction }) => ({ phase, instruction })),
  };
}

export async function formulaById(tx: EntityManager, id: number): Promise<Formula> {
  const formula = await tx.findOneBy(Formula, { id });
  if (!formula) throw notFound('formula', id);
  return formula;
}

/** The lines of a formula in order, each with its item. */
export async function linesOf(tx: EntityManager, id: number): Promise<{ line: FormulaLine; item: Item }[]> {
  const lines = await tx.find(FormulaLine, { where: { formulaId: id }, order: { position: 'ASC' } });
  const parts = await tx
    .createQueryBuilder(Item, 'i')
    .where('i.id = any(:ids)', { ids: lines.map(({ itemId }) => itemId) })
    .getMany();
  const byId = new Map(parts.map((part) => [part.id, part]));
  return lines.map((line) => ({ line, item: byId.get(line.itemId)! }));
}

function summaryOf(formula: Formula, item: string, isCurrent: boolean): FormulaSummary {
  return {
    id: formula.id,
    item,
    version: formula.version,
    isCurrent,
    withdrawn: formula.withdrawn,
    vesselKind: formula.vesselKind,
    batchMin: formula.batchMin,
    batchMax: formula.batchMax,
    batchMultiple: formula.batchMultiple,
    lossPpb: formula.lossPpb,
    residueMg: formula.residueMg,
    minutesBatch: formula.minutesBatch,
    secondsUnit: formula.secondsUnit,
    restDays: formula.restDays,
    skill: formula.skill,
    note: formula.note,
    createdBy: formula.createdBy,
    createdAt: formula.createdAt.toISOString(),
  };
}
