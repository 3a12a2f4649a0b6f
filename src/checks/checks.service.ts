import { createHash } from 'node:crypto';
import type { Readable } from 'node:stream';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { weightOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound, Problem } from '../platform/problem.js';
import { dayOfAct } from '../stock/day-of-act.js';
import { benchRulesOf, e3Of } from './bench-rules.service.js';
import { checkKinds, kindsOf } from './check-kinds.js';
import type { CheckKind } from './check-kinds.js';
import type { CheckCreate, CheckPhoto, CheckResult, ChecksView } from './checks.schema.js';
import { isEnough, judgeWeights } from './filled-weights.js';
import { BrokenPhoto, photoTypeOf, withoutMetadata } from './photo-bytes.js';
import type { PhotoType } from './photo-bytes.js';
import { PhotoStore } from './photo-store.js';
import type { CheckedBatch } from './checked-batch.js';

export const PHOTO_BYTES_MAX = 10 * 1024 * 1024;
const PHOTOS_MAX = 12;

/** What is found out about a batch before anything of it is released. */
@Injectable()
export class ChecksService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly photos: PhotoStore,
  ) {}

  checks(batch: string): Promise<ChecksView> {
    return this.database.read(async (tx) => checksViewOf(tx, await checkedBatch(tx, batch)));
  }

  /** Writes down what was found. It stands before what was found earlier, which stays to be read. */
  async check(who: string, code: string, body: CheckCreate): Promise<ChecksView> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who }, async (tx) => {
      const batch = await checkedBatch(tx, code);
      if (batch.status === 'planned' || batch.status === 'cancelled')
        throw conflict('wrong-state', `Batch ${code} is ${batch.status}, so there is nothing to check.`);
      const kind = kindsOf(await checkKinds(tx), batch).find((one) => one.code === body.kind);
      if (!kind) throw invalid('/kind', `Of batch ${code} nothing called ${body.kind} is checked.`, 'unknown-check');
      const found = await foundOf(tx, batch, kind, body);
      await tx.query(
        `insert into check_result (batch_id, kind, name, unit, value_e3, lowest_e3, highest_e3, choice, weights_mg,
           judgement, passes, note, done_on) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
        [
          batch.id,
          kind.code,
          kind.name,
          kind.unit,
          found.valueE3 ?? null,
          kind.lowestE3,
          kind.highestE3,
          found.choice ?? null,
          found.weightsMg ?? null,
          found.judgement ?? null,
          found.passes,
          body.note ?? '',
          day,
        ],
      );
      return checksViewOf(tx, batch);
    });
  }

  /**
   * Keeps a picture with a result, without what the camera wrote beside it. Throws a problem: 413 for one too large, 415
   * for what is no JPEG, PNG or WebP, 422 for one that is broken, 409 for more than a dozen.
   */
  async addPhoto(who: string, code: string, resultId: number, body: Readable): Promise<CheckPhoto> {
    const { bytes, type } = await readPhoto(body);
    const sha256 = createHash('sha256').update(bytes).digest('hex');
    await this.photos.put(sha256, bytes, type);
    return this.database.act({ who }, async (tx) => {
      const batch = await checkedBatch(tx, code);
      const [result] = await tx.query<{ photos: number }[]>(
        `select (select count(*) from check_photo where check_result_id = r.id)::int as photos
         from check_result r where r.id = $1 and r.batch_id = $2`,
        [resultId, batch.id],
      );
      if (!result) throw notFound(`result of batch ${code} with id`, resultId);
      if (result.photos >= PHOTOS_MAX) throw conflict('too-many', `A result has at most ${PHOTOS_MAX} photos.`);
      const [row] = await tx.query<{ id: number }[]>(
        'insert into check_photo (check_result_id, sha256, type, bytes) values ($1, $2, $3, $4) returning id',
        [resultId, sha256, type, bytes.length],
      );
      return { id: row!.id, type, bytes: bytes.length };
    });
  }

  /** Throws a 404 problem. */
  async photo(id: number): Promise<{ bytes: Buffer; type: string }> {
    const [row] = await this.database.read((tx) =>
      tx.query<{ sha256: string; type: string }[]>('select sha256, type from check_photo where id = $1', [id]),
    );
    if (!row) throw notFound('photo', id);
    return { bytes: await this.photos.get(row.sha256), type: row.type };
  }
}

/** Throws 409 `unchecked` where a required check of the batch is missing or not good, naming each. */
export async function refuseUnchecked(tx: EntityManager, batchId: number): Promise<void> {
  const [batch] = await tx.query<CheckedBatch[]>(`${CHECKED_BATCH} where b.id = $1`, [batchId]);
  const { batch: code, missing, failed } = await checksViewOf(tx, batch!);
  if (missing.length === 0 && failed.length === 0) return;
  const said = [
    missing.length > 0 ? `still to be checked: ${missing.join(', ')}` : '',
    failed.length > 0 ? `not good: ${failed.join(', ')}` : '',
  ].filter((part) => part !== '');
  throw new Problem({
    status: 409,
    code: 'unchecked',
    detail: `Batch ${code} is not released. ${said.join('; ').replace(/^./, (first) => first.toUpperCase())}.`,
    extra: { missing, failed },
  });
}

const CHECKED_BATCH = `
  select b.id, b.code, b.status, coalesce(b.made, b.output) as output, i.id as "itemId", i.code as item, i.kind, i.family
  from batch b join item i on i.id = b.item_id`;

/** Throws a 404 problem. */
export async function checkedBatch(tx: EntityManager, code: string): Promise<CheckedBatch> {
  const rows = await tx.query<CheckedBatch[]>(`${CHECKED_BATCH} where b.code = $1`, [code]);
  if (!rows[0]) throw notFound('batch', code);
  return rows[0];
}

type Found = Pick<CheckResult, 'passes'> & Partial<CheckResult>;

async function foundOf(tx: EntityManager, batch: CheckedBatch, kind: CheckKind, body: CheckCreate): Promise<Found> {
  if (kind.measure === 'number') {
    if (body.value === undefined) throw invalid('/value', `${kind.name} is a number.`);
    const valueE3 = e3Of(body.value, '/value');
    return {
      valueE3,
      passes: valueE3 >= (kind.lowestE3 ?? valueE3) && valueE3 <= (kind.highestE3 ?? valueE3),
    };
  }
  if (kind.measure === 'choice') {
    if (body.choice === undefined || !kind.choices.includes(body.choice))
      throw invalid('/choice', `${kind.name} is one of: ${kind.choices.join(', ')}.`);
    return { choice: body.choice, passes: kind.good.includes(body.choice) };
  }
  if (body.weights === undefined) throw invalid('/weights', `${kind.name} are weights.`);
  const tareMg = body.tare === undefined ? 0 : weightOf(body.tare, '/tare');
  const weightsMg = body.weights.map((weight, at) => {
    const netMg = weightOf(weight, `/weights/${at}`) - tareMg;
    if (netMg < 0) throw invalid(`/weights/${at}`, 'It weighs less than the empty container.');
    return netMg;
  });
  const judgement = await judgeWeights(tx, batch, weightsMg, (await benchRulesOf(tx)).netRule);
  return { weightsMg, judgement, passes: isEnough(judgement, kind.unitsLeast) };
}

async function checksViewOf(tx: EntityManager, batch: CheckedBatch): Promise<ChecksView> {
  const kinds = kindsOf(await checkKinds(tx), batch);
  const rows = await tx.query<CheckResult[]>(RESULTS, [batch.id]);
  const label = await labelOf(tx, batch.itemId);
  const checks = kinds.map((kind) => {
    const results = rows.filter((row) => row.kind === kind.code);
    return { ...kind, state: stateOf(results), results };
  });
  const required = checks.filter(({ isRequired }) => isRequired);
  const isAnswered = (check: (typeof checks)[number]) =>
    check.state !== 'open' ||
    (check.oneOf !== '' && checks.some((other) => other.oneOf === check.oneOf && other.state === 'good'));
  const missing = required.filter((check) => !isAnswered(check)).map(({ name }) => name);
  const failed = required.filter(({ state }) => state === 'not-good').map(({ name }) => name);
  return {
    batch: batch.code,
    item: batch.item,
    label,
    checks,
    missing,
    failed,
    isReleasable: missing.length === 0 && failed.length === 0,
  };
}

function stateOf(results: readonly CheckResult[]): ChecksView['checks'][number]['state'] {
  if (results[0] === undefined) return 'open';
  return results[0].passes ? 'good' : 'not-good';
}

async function labelOf(tx: EntityManager, itemId: number): Promise<ChecksView['label']> {
  const rows = await tx.query<NonNullable<ChecksView['label']>[]>(
    `select case when net_ul is null then 'weight' else 'volume' end as basis, coalesce(net_mg, net_ul) as amount
     from item_label where item_id = $1 and coalesce(net_mg, net_ul) is not null`,
    [itemId],
  );
  return rows[0] ?? null;
}

/* The ISO text of an instant as JSON writes it elsewhere; the newest result first. */
const RESULTS = `
  select r.id, r.kind, r.value_e3 as "valueE3", r.lowest_e3 as "lowestE3", r.highest_e3 as "highestE3", r.choice,
    r.weights_mg as "weightsMg", r.judgement, r.passes, r.note, r.done_on as "doneOn", r.created_by as "createdBy",
    to_char(r.created_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"') as "createdAt",
    (select coalesce(json_agg(json_build_object('id', p.id, 'type', p.type, 'bytes', p.bytes) order by p.id), '[]')
      from check_photo p where p.check_result_id = r.id) as photos
  from check_result r where r.batch_id = $1 order by r.id desc`;

/** The whole picture, its kind, and nothing beside it. */
/** A whole picture, without what the camera wrote beside it. Throws 413, 415 and 422 problems. */
export async function readPhoto(body: Readable): Promise<{ bytes: Buffer; type: PhotoType }> {
  const chunks: Buffer[] = [];
  let size = 0;
  for await (const chunk of body as AsyncIterable<Buffer>) {
    size += chunk.length;
    if (size > PHOTO_BYTES_MAX)
      throw new Problem({ status: 413, code: 'too-large', detail: 'A photo may have at most 10 MB.' });
    chunks.push(chunk);
  }
  const raw = Buffer.concat(chunks);
  const type = photoTypeOf(raw);
  if (!type)
    throw new Problem({ status: 415, code: 'unsupported-media-type', detail: 'Send a JPEG, PNG or WebP picture.' });
  try {
    return { bytes: withoutMetadata(raw, type), type };
  } catch (error) {
    if (!(error instanceof BrokenPhoto)) throw error;
    throw new Problem({ status: 422, code: 'broken-photo', detail: `The picture cannot be read: ${error.message}.` });
  }
}
