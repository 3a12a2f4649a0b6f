import type { EntityManager } from 'typeorm';
import { setWashing } from '../batches/planned-batch.js';
import type { SnapshotWashing } from '../kernel/plan/snapshot.js';
import { washedInTurn } from '../kernel/plan/washed.js';
import { Washing } from '../kernel/plan/washing.js';
import { WASHING } from './washing-said.js';

interface InVessel {
  id: number;
  item: string;
  vessel: string;
  kind: string;
  day: string;
  emptiedOn: string;
  isBegun: boolean;
  washMinutes: number;
  washAfter: string | null;
}

/**
 * After anything was put into these vessels, taken out or moved: what is committed there and not begun has as many minutes
 * for washing as the table asks for now, after what now stands before it. What is begun keeps what it had.
 */
export async function rewash(tx: EntityManager, vessels: readonly (string | null)[]): Promise<void> {
  const standing = await tx.query<InVessel[]>(
    `select b.id, i.code as item, v.code as vessel, v.kind, b.day, b.emptied_on as "emptiedOn",
       b.status not in ('planned', 'reserved') as "isBegun", b.wash_minutes as "washMinutes", wi.code as "washAfter"
     from batch b join item i on i.id = b.item_id join vessel v on v.id = b.vessel_id
       left join item wi on wi.id = b.wash_after_id
     where v.code = any($1) and b.status in ('planned', 'reserved', 'weighed', 'resting')
     order by b.day, b.emptied_on, b.code`,
    [vessels.filter((code) => code !== null)],
  );
  if (standing.length === 0) return;
  const [said] = await tx.query<{ washing: SnapshotWashing | null }[]>(`select ${WASHING} as washing`);
  const washing = new Washing(said!.washing ?? { rows: [], items: [] });
  const held = new Map(said!.washing?.held.map((row) => [row.vessel, row.item]));
  for (const code of new Set(standing.map(({ vessel }) => vessel))) {
    const stays = standing.filter(({ vessel }) => vessel === code);
    const washed = washedInTurn(washing, { code, kind: stays[0]!.kind }, held.get(code) ?? null, stays);
    for (const [at, { id, isBegun, washMinutes, washAfter }] of stays.entries()) {
      const { minutes, after } = washed[at]!;
      const isSame = minutes === washMinutes && (minutes === 0 || after === washAfter);
      if (!isBegun && !isSame) await setWashing(tx, id, { minutes, after });
    }
  }
}
