import type { EntityManager } from 'typeorm';
import type { LineCover, Proposal, Taken } from '../kernel/plan/proposal.js';

/** What a plan means to use for an order line. */
export interface MeantSource {
  from: 'lot' | 'batch' | 'delivery';
  /** The code of a lot, a delivery or a batch; the key of a batch that is only proposed. */
  code: string;
  /** The plan the batch belongs to. */
  runId: number | null;
  quantity: number;
  /** The day a batch is ready or a delivery comes; null for what lies on the shelf. */
  on: string | null;
}

/** Several plans made at once leave the covers of one of them. */
const LOCK = `select pg_advisory_xact_lock(hashtext('lotwright.line-cover'))`;

const REPLACE = `
  insert into line_cover (order_line_id, run_id, asked, found, ready_on, because, sources)
  select r.id, $1, r.asked, r.found, r."readyOn", r.because, r.sources
  from jsonb_to_recordset($2::jsonb) as r (id bigint, asked bigint, found bigint, "readyOn" date, because text, sources jsonb)`;

/** Keeps what a plan means for each order line, in place of what the plan before meant. `ids`: order lines by key. */
export async function keepCovers(
  tx: EntityManager,
  runId: number,
  proposal: Proposal,
  ids: ReadonlyMap<string, number>,
): Promise<void> {
  await tx.query(LOCK);
  await tx.query('delete from line_cover');
  const making = proposal.lines.flatMap(({ taken }) => taken.flatMap((row) => (row.from === 'making' ? row.key : [])));
  const batches = new Map<string, { runId: number | null; on: string | null }>(
    proposal.batches.map((batch) => [batch.key, { runId, on: batch.readyOn }]),
  );
  const made = await tx.query<{ code: string; runId: number | null; on: string }[]>(
    'select code, run_id as "runId", ready_on as "on" from batch where code = any($1::text[])',
    [[...new Set(making)]],
  );
  for (const { code, ...batch } of made) batches.set(code, batch);
  const deliveries = new Map(
    (
      await tx.query<{ key: string; on: string }[]>(
        `select d.code || '#' || l.id as key, d.expected_on as "on"
         from delivery_line l join delivery d on d.id = l.delivery_id where d.status = 'expected'`,
      )
    ).map((row) => [row.key, row.on]),
  );
  const sourceOf = ({ from, key, quantity }: Taken): MeantSource => {
    if (from === 'lot') return { from, code: key, runId: null, quantity, on: null };
    // a delivery's line is named by the delivery's code and its own id
    if (from === 'delivery')
      return { from, code: key.replace(/#\d+$/, ''), runId: null, quantity, on: deliveries.get(key) ?? null };
    return { from: 'batch', code: key, quantity, ...(batches.get(key) ?? { runId: null, on: null }) };
  };
  const rowOf = (line: LineCover) => ({
    id: ids.get(line.key)!,
    asked: line.quantity,
    found: line.quantity - line.missing,
    readyOn: line.readyOn,
    because: line.because,
    sources: line.taken.map(sourceOf),
  });
  await tx.query(REPLACE, [runId, JSON.stringify(proposal.lines.map(rowOf))]);
}
