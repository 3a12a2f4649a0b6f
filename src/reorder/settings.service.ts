import { Injectable } from '@nestjs/common';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import { DEFAULTS, type Rule, type Settings } from './known.js';
import type { RulePut, RuleView, SettingsPut, SettingsView } from './reorder.schema.js';

/** What service is wanted, of all items and of single ones. */
@Injectable()
export class ReorderSettingsService {
  constructor(private readonly database: Database) {}

  get(): Promise<SettingsView> {
    return this.database.read(async (tx) => {
      const [row] = await tx.query<Settings[]>(`
        select service_kind as "serviceKind", service_ppb as "servicePpb", review_days as "reviewDays",
          order_cost_e4 as "orderCostE4", cover_most_days as "coverMostDays" from reorder_setting`);
      return row ?? DEFAULTS;
    });
  }

  put(who: string, body: SettingsPut): Promise<SettingsView> {
    return this.database.act({ who }, async (tx) => {
      const { service, ...rest } = body;
      await tx.query(
        `insert into reorder_setting (id, service_kind, service_ppb, review_days, order_cost_e4, cover_most_days)
         values (1, $1, $2, $3, $4, $5) on conflict (id) do update set service_kind = excluded.service_kind,
           service_ppb = excluded.service_ppb, review_days = excluded.review_days,
           order_cost_e4 = excluded.order_cost_e4, cover_most_days = excluded.cover_most_days,
           updated_by = acting_person(), updated_at = now()`,
        [rest.serviceKind, service, rest.reviewDays, rest.orderCostE4, rest.coverMostDays],
      );
      return { ...rest, servicePpb: service };
    });
  }

  /** The rule of one item; where it has none, that of the workshop holds and there is no trial. */
  rule(item: string): Promise<RuleView> {
    return this.database.read(async (tx) => {
      const [row] = await tx.query<Rule[]>(
        `select r.service_kind as "serviceKind", r.service_ppb as "servicePpb",
           coalesce(r.trial_days, 0) as "trialDays"
         from item i left join reorder_rule r on r.item_id = i.id where i.code = $1`,
        [item],
      );
      if (!row) throw notFound('item', item);
      return { item, ...row };
    });
  }

  putRule(who: string, item: string, body: RulePut): Promise<RuleView> {
    return this.database.act({ who }, async (tx) => {
      const servicePpb = body.serviceKind === null || body.serviceKind === 'none' ? null : (body.service ?? null);
      const trialDays = body.trialDays ?? 0;
      const rows = await tx.query<{ item_id: number }[]>(
        `insert into reorder_rule (item_id, service_kind, service_ppb, trial_days)
         select id, $2, $3, $4 from item where code = $1
         on conflict (item_id) do update set service_kind = excluded.service_kind, service_ppb = excluded.service_ppb,
           trial_days = excluded.trial_days, updated_by = acting_person(), updated_at = now() returning item_id`,
        [item, body.serviceKind, servicePpb, trialDays],
      );
      if (rows.length === 0) throw notFound('item', item);
      return { item, serviceKind: body.serviceKind, servicePpb, trialDays };
    });
  }
}
