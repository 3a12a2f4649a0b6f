import { Injectable } from '@nestjs/common';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import type { WashingPut, WashingView } from './washing.schema.js';

/** More than a table of a small workshop needs; a plan looks each up at once, however many there are. */
const ROWS_MAX = 1_000;

const VIEW = `select w.id, v.code as vessel, w.vessel_kind as kind, w.after_family as "afterFamily", w.after_scent as "afterScent",
    w.before_family as "beforeFamily", w.before_scent as "beforeScent", w.minutes
  from washing w left join vessel v on v.id = w.vessel_id`;

/** What vessels are washed for between two pours. Where nothing is said, nothing is washed. */
@Injectable()
export class WashingService {
  constructor(private readonly database: Database) {}

  /** By what stood there, then by what comes, anything last; of the same, the vessel before its kind and that before any. */
  list(): Promise<{ washing: WashingView[] }> {
    return this.database.read(async (tx) => ({
      washing: await tx.query<WashingView[]>(
        `${VIEW} order by w.after_scent, w.after_family, w.before_scent, w.before_family, v.code, w.vessel_kind, w.id`,
      ),
    }));
  }

  /** Says how long, in the place of what was said of the same. Throws 422 for a vessel nobody knows, 409 `too-many`. */
  put(who: string, body: WashingPut): Promise<WashingView> {
    return this.database.act({ who }, async (tx) => {
      const { vessel, kind, afterFamily, afterScent, beforeFamily, beforeScent, minutes } = body;
      const [named] = await tx.query<{ id: number }[]>('select id from vessel where code = $1', [vessel]);
      if (vessel !== null && !named) throw invalid('/vessel', `There is no vessel ${vessel}.`, 'unknown-vessel');
      const rows = await tx.query<{ id: number }[]>(
        `insert into washing (vessel_id, vessel_kind, after_family, after_scent, before_family, before_scent, minutes)
         values ($1, $2, $3, $4, $5, $6, $7)
         on conflict (vessel_id, vessel_kind, after_family, after_scent, before_family, before_scent)
           do update set minutes = excluded.minutes, said_by = acting_person(), said_at = now() returning id`,
        [named?.id ?? null, kind, afterFamily, afterScent, beforeFamily, beforeScent, minutes],
      );
      const [all] = await tx.query<{ rows: number }[]>('select count(*)::int as rows from washing');
      if (all!.rows > ROWS_MAX) throw conflict('too-many', `At most ${ROWS_MAX} rows can be said of washing.`);
      return (await tx.query<WashingView[]>(`${VIEW} where w.id = $1`, [rows[0]!.id]))[0]!;
    });
  }

  /** Throws 404. */
  takeBack(who: string, id: number): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const [gone] = await tx.query<[{ id: number }[], number]>('delete from washing where id = $1 returning id', [id]);
      if (gone.length === 0) throw notFound('row of the washing table', id);
    });
  }
}
