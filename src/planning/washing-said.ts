/** What a workshop says of washing, as a plan reads it (`SnapshotWashing`); null where it says nothing. */
export const WASHING = `(select json_build_object(
    'rows', json_agg(json_build_object('vessel', v.code, 'kind', w.vessel_kind,
        'after', json_build_object('family', w.after_family, 'scent', w.after_scent),
        'before', json_build_object('family', w.before_family, 'scent', w.before_scent), 'minutes', w.minutes) order by w.id),
    'items', (select coalesce(json_agg(json_build_object('code', code, 'family', family, 'scent', scent) order by code), '[]')
      from item where kind <> 'material'),
    'held', (select coalesce(json_agg(json_build_object('vessel', hv.code, 'item', hi.code) order by hv.code), '[]')
      from vessel hv cross join lateral (select hb.item_id from batch hb
          where hb.vessel_id = hv.id and hb.status in ('released', 'rejected')
          order by hb.emptied_on desc, hb.id desc limit 1) last
        join item hi on hi.id = last.item_id),
    'making', (select coalesce(json_agg(json_build_object('code', mb.code, 'minutes', mb.wash_minutes) order by mb.code), '[]')
      from batch mb where mb.status in ('planned', 'reserved', 'weighed', 'resting') and mb.wash_minutes > 0))
  from washing w left join vessel v on v.id = w.vessel_id having count(*) > 0)`;
