import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { Measure } from '../kernel/measure/quantity.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import { likePart } from '../platform/like-part.js';
import { CURRENT_FORMULAS } from './current-formulas.js';
import type { Step } from './formula.entity.js';
import type { Basis } from '../kernel/formula/formula.js';
import type { FormulaSummary } from './formulas.schema.js';
import { summariesOf } from './formulas.service.js';
import type { Family, ItemKind } from './item.entity.js';
import { itemByCode, itemViewOf } from './items.service.js';
import type { ItemView } from './items.schema.js';

const ROWS_AT_ONCE = 100;

export interface MadeItemRow {
  code: string;
  name: string;
  kind: ItemKind;
  family: Family;
  measure: Measure;
  /** Of the current version; null where there is none. */
  version: number | null;
  versions: number;
  lines: number;
  restDays: number | null;
  createdAt: Date | null;
  createdBy: string | null;
}

/** A line of a version with what its item is. */
export interface BookLine {
  line: number;
  item: string;
  name: string;
  measure: Measure;
  kind: ItemKind;
  family: Family;
  flammable: boolean;
  /** False for what is always there, such as tap water. */
  stocked: boolean;
  basis: Basis;
  /** As it is kept: ppb for share, load and ratio, the item's base unit for each and fixed, null for qs. */
  amount: number | null;
  isBase: boolean;
  ratioOf: number[];
  step: Step;
  partPpb: number | null;
}

export interface BookVersion extends FormulaSummary {
  lines: BookLine[];
  steps: { phase: Step; instruction: string }[];
}

export interface FormulaBook {
  item: ItemView;
  /** The newest first. */
  versions: FormulaSummary[];
  /** The version asked for, else the current one; null where nothing is written yet. */
  shown: BookVersion | null;
  /** The version beside it, where one was asked for or there is one before it. */
  beside: BookVersion | null;
}

/** How made items are made, as one leafs through it: every version, two of them side by side. */
@Injectable()
export class FormulaBookService {
  constructor(private readonly database: Database) {}

  /** One page of the made items with their current version, by name. `after` is the code of the last of the page before. */
  list(query: { search?: string; after?: string }): Promise<{ rows: MadeItemRow[]; next: string | null }> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<MadeItemRow[]>(MADE_ITEMS, [
        likePart(query.search),
        query.after ?? null,
        ROWS_AT_ONCE + 1,
      ]);
      const shown = rows.slice(0, ROWS_AT_ONCE);
      return { rows: shown, next: rows.length > ROWS_AT_ONCE ? shown.at(-1)!.code : null };
    });
  }

  /** By skill. */
  askedSkills(): Promise<AskedSkill[]> {
    return this.database.read((tx) => tx.query<AskedSkill[]>(ASKED_SKILLS));
  }

  /** Throws 404 problems for an item or a version that is not there. */
  book(code: string, asked: { version?: number; beside?: number } = {}): Promise<FormulaBook> {
    return this.database.read(async (tx) => {
      const item = await itemByCode(tx, code);
      const versions = await summariesOf(tx, item);
      const find = (version: number): FormulaSummary => {
        const found = versions.find((row) => row.version === version);
        if (!found) throw notFound(`version of ${code}`, version);
        return found;
      };
      const shown = asked.version === undefined ? versions.find((row) => row.isCurrent) : find(asked.version);
      const before = versions.find((row) => shown !== undefined && row.version < shown.version);
      const beside = asked.beside === undefined ? before : find(asked.beside);
      return {
        item: itemViewOf(item),
        versions,
        shown: shown ? await versionOf(tx, shown) : null,
        beside: beside ? await versionOf(tx, beside) : null,
      };
    });
  }
}

/** What current formulas ask for of whoever makes it, and the names of what is so made. */
export interface AskedSkill {
  skill: string;
  items: string[];
}

async function versionOf(tx: EntityManager, summary: FormulaSummary): Promise<BookVersion> {
  const steps = await tx.query<BookVersion['steps']>(
    'select phase, instruction from formula_step where formula_id = $1 order by position',
    [summary.id],
  );
  const lines = await tx.query<BookLine[]>(
    `select l.position as line, i.code as item, i.name, i.measure, i.kind, i.family, i.flammable, i.stocked, l.basis, l.amount,
       l.is_base as "isBase", l.ratio_of as "ratioOf", l.step, l.part_ppb as "partPpb"
     from formula_line l join item i on i.id = l.item_id where l.formula_id = $1 order by l.position`,
    [summary.id],
  );
  return { ...summary, lines, steps };
}

const ASKED_SKILLS = `
  select f.skill, json_agg(i.name order by lower(i.name), i.code) as items
  from ${CURRENT_FORMULAS} f join item i on i.id = f.item_id
  where f.skill is not null group by f.skill order by f.skill`;

const MADE_ITEMS = `
  select i.code, i.name, i.kind, i.family, i.measure, f.version, coalesce(n.versions, 0) as versions,
    coalesce(l.lines, 0) as lines, f.rest_days as "restDays", f.created_at as "createdAt", f.created_by as "createdBy"
  from item i
    left join lateral (select * from formula where item_id = i.id and not withdrawn order by version desc limit 1) f on true
    left join lateral (select count(*)::int as versions from formula where item_id = i.id) n on true
    left join lateral (select count(*)::int as lines from formula_line where formula_id = f.id) l on true
  where i.kind <> 'material' and ($1::text is null or i.code ilike $1 or i.name ilike $1)
    and ($2::text is null or (lower(i.name), i.code) > (select lower(name), code from item where code = $2))
  order by lower(i.name), i.code limit $3`;
