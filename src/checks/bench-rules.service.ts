import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { scaledDecimal } from '../catalog/amount.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { checkKinds } from './check-kinds.js';
import type { CheckKind } from './check-kinds.js';
import type { BenchRules, BenchRulesPut, CheckKindList, CheckKindPut } from './checks.schema.js';
import { freeCode } from './free-code.js';

/** Until the workshop has said anything: what the columns of the table default to. */
const UNSAID: BenchRules = {
  netRule: 'nist-133',
  // exceeds 0.001 % in what stays on, 0.01 % in what is rinsed off: Regulation (EC) 1223/2009, annex III
  leaveOnPpb: 10_000,
  rinseOffPpb: 100_000,
  allergenSource: 'Regulation (EC) 1223/2009, annex III, as amended by Regulation (EU) 2023/1545',
  address: '',
};

/** By which rules the workshop checks and labels. */
@Injectable()
export class BenchRulesService {
  constructor(private readonly database: Database) {}

  get(): Promise<BenchRules> {
    return this.database.read(benchRulesOf);
  }

  put(who: string, body: BenchRulesPut): Promise<BenchRules> {
    return this.database.act({ who }, async (tx) => {
      await tx.query(
        `insert into bench_rules (id, net_rule, leave_on_ppb, rinse_off_ppb, allergen_source, address)
         values (1, $1, $2, $3, $4, $5)
         on conflict (id) do update set net_rule = excluded.net_rule, leave_on_ppb = excluded.leave_on_ppb,
           rinse_off_ppb = excluded.rinse_off_ppb, allergen_source = excluded.allergen_source,
           address = excluded.address, updated_by = acting_person(), updated_at = now()`,
        [body.netRule, body.leaveOn, body.rinseOff, body.allergenSource, body.address.replace(/\/+$/, '')],
      );
      return benchRulesOf(tx);
    });
  }

  kinds(): Promise<CheckKindList> {
    return this.database.read(async (tx) => ({ checkKinds: await checkKinds(tx) }));
  }

  /** Says what a kind of check is, in place of what was said of it before; results already written keep their limits. */
  putKind(who: string, code: string, body: CheckKindPut): Promise<CheckKind> {
    const kind = kindOf(code, body);
    return this.database.act({ who }, async (tx) => {
      await tx.query(`${INSERT_KIND} ${IN_PLACE}`, [JSON.stringify(kind)]);
      return kind;
    });
  }

  /** Adds a kind under a code made of its name. Throws 422 problems; of a family no two have the same name. */
  addKind(who: string, body: CheckKindPut): Promise<CheckKind> {
    return this.database.act({ who }, async (tx) => {
      const known = await checkKinds(tx);
      const name = body.name.toLowerCase();
      if (known.some((kind) => kind.family === body.family && kind.name.toLowerCase() === name))
        throw invalid('/name', 'There is a check of this name already.', 'already-so');
      const taken = new Set(known.map(({ code }) => code));
      const kind = kindOf(freeCode(`${body.family}-${body.name}`, taken), body);
      // two who add the same at once: the second is refused by the key of the table
      await tx.query(INSERT_KIND, [JSON.stringify(kind)]);
      return kind;
    });
  }
}

/** Throws 422 problems. */
function kindOf(code: string, { lowest, highest, ...plain }: CheckKindPut): CheckKind {
  const kind: CheckKind = { ...plain, code, lowestE3: e3Of(lowest, '/lowest'), highestE3: e3Of(highest, '/highest') };
  if (kind.lowestE3 !== null && kind.highestE3 !== null && kind.highestE3 < kind.lowestE3)
    throw invalid('/highest', 'The highest cannot be below the lowest.');
  if (kind.measure !== 'number' && (lowest !== null || highest !== null))
    throw invalid('/lowest', 'Only a number has limits.');
  return kind;
}

const INSERT_KIND = `
  insert into check_kind (code, family, made, position, name, how, measure, unit, lowest_e3, highest_e3, choices, good,
    units_least, one_of, is_required)
  select code, family, made, position, name, how, measure, unit, "lowestE3", "highestE3", choices, good, "unitsLeast",
    "oneOf", "isRequired"
  from jsonb_to_record($1::jsonb) as k (code text, family text, made text, position int, name text, how text,
    measure text, unit text, "lowestE3" bigint, "highestE3" bigint, choices text[], good text[], "unitsLeast" int,
    "oneOf" text, "isRequired" boolean)`;
const IN_PLACE = `
  on conflict (code) do update set family = excluded.family, made = excluded.made, position = excluded.position,
    name = excluded.name, how = excluded.how, measure = excluded.measure, unit = excluded.unit,
    lowest_e3 = excluded.lowest_e3, highest_e3 = excluded.highest_e3, choices = excluded.choices, good = excluded.good,
    units_least = excluded.units_least, one_of = excluded.one_of, is_required = excluded.is_required,
    updated_by = acting_person(), updated_at = now()`;

export async function benchRulesOf(tx: EntityManager): Promise<BenchRules> {
  const rows = await tx.query<BenchRules[]>(
    `select net_rule as "netRule", leave_on_ppb as "leaveOnPpb", rinse_off_ppb as "rinseOffPpb",
       allergen_source as "allergenSource", address from bench_rules`,
  );
  return rows[0] ?? UNSAID;
}

/** A decimal in thousandths. Throws a 422 problem at `pointer`. */
export function e3Of<Given extends number | string | null>(
  given: Given,
  pointer: string,
): number | Extract<Given, null> {
  if (given === null) return null as Extract<Given, null>;
  const e3 = scaledDecimal(given, 3);
  if (e3 === null || e3 > 1_000_000_000)
    throw invalid(pointer, 'Write a number such as 25 or 9.5, three decimals at most.');
  return e3;
}
