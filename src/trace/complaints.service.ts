import { createHash } from 'node:crypto';
import type { Readable } from 'node:stream';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { itemsByCode } from '../catalog/items.service.js';
import { addDays } from '../kernel/measure/day.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { readPhoto } from '../checks/checks.service.js';
import { PhotoStore } from '../checks/photo-store.js';
import { dayOfAct } from '../stock/day-of-act.js';
import { complaintByCode, complaintSummaries, lockComplaint, lotIdOfScan, nextCode } from './complaints.js';
import type {
  ComplaintCreate,
  ComplaintPage,
  ComplaintPhoto,
  ComplaintQuery,
  ComplaintView,
  EntryCreate,
} from './complaint.schema.js';

const PHOTOS_MAX = 12;
/** Days until it is answered: common practice, no source. */
const ANSWER_DAYS = { harmed: 1, unharmed: 7 };

/** What customers report. */
@Injectable()
export class ComplaintsService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly photos: PhotoStore,
  ) {}

  async list(query: ComplaintQuery): Promise<ComplaintPage> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const rows = await complaintSummaries(tx, today, { ...query, limit: query.limit + 1 });
      const complaints = rows.slice(0, query.limit);
      return { complaints, next: rows.length > query.limit ? complaints.at(-1)!.code : null };
    });
  }

  async get(code: string): Promise<ComplaintView> {
    const today = await this.clock.today();
    return this.database.read((tx) => complaintByCode(tx, today, code));
  }

  /** Writes down what was reported: about a lot, an order, a product, or as yet nothing but a description. */
  async create(who: string, body: ComplaintCreate): Promise<ComplaintView> {
    const today = await this.clock.today();
    const reportedOn = dayOfAct(today, body.reportedOn, '/reportedOn');
    if (body.happenedOn !== undefined && body.happenedOn > reportedOn)
      throw invalid('/happenedOn', `It was reported on ${reportedOn}, before this day.`);
    const harmed = body.harmed ?? (body.harm === 'none' ? 'nobody' : 'person');
    const days = body.harm === 'none' ? ANSWER_DAYS.unharmed : ANSWER_DAYS.harmed;
    return this.database.act({ who }, async (tx) => {
      const code = await nextCode(tx, 'complaint', 'C', reportedOn);
      await tx.query(
        `insert into complaint (code, reported_on, happened_on, item_id, lot_id, order_id, description, harm, harmed,
           reporter, contact, due_on) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
        [
          code,
          reportedOn,
          body.happenedOn ?? null,
          body.item === undefined
            ? null
            : (await itemsByCode(tx, [{ code: body.item, pointer: '/item' }])).get(body.item)!.id,
          body.lot === undefined ? null : await lotIdOfScan(tx, body.lot, '/lot'),
          body.order === undefined ? null : await orderIdOf(tx, body.order, '/order/number'),
          body.description,
          body.harm,
          harmed,
          body.reporter ?? '',
          body.contact ?? '',
          body.dueOn ?? addDays(reportedOn, days),
        ],
      );
      return complaintByCode(tx, today, code);
    });
  }

  /**
   * Adds to a complaint: a note, an answer given, advice sought, another day, the lot or order it turned out to be, or its
   * outcome, with which it is closed. Throws 409 `wrong-state` where that is so already.
   */
  async add(who: string, code: string, body: EntryCreate): Promise<ComplaintView> {
    const today = await this.clock.today();
    return this.database.act({ who }, async (tx) => {
      const { id } = await lockComplaint(tx, code);
      const { status } = await complaintByCode(tx, today, code);
      if (body.kind === 'closed' && status === 'closed') throw conflict('wrong-state', `Complaint ${code} is closed.`);
      if (body.kind === 'reopened' && status === 'open') throw conflict('wrong-state', `Complaint ${code} is open.`);
      await tx.query(
        `insert into complaint_entry (complaint_id, kind, text, due_on, lot_id, order_id) values ($1, $2, $3, $4, $5, $6)`,
        [
          id,
          body.kind,
          body.text,
          body.dueOn ?? null,
          body.lot === undefined ? null : await lotIdOfScan(tx, body.lot, '/lot'),
          body.order === undefined ? null : await orderIdOf(tx, body.order, '/order/number'),
        ],
      );
      return complaintByCode(tx, today, code);
    });
  }

  /** Keeps a picture without what the camera wrote beside it. Throws as photos of checks do. */
  async addPhoto(who: string, code: string, body: Readable): Promise<ComplaintPhoto> {
    const { bytes, type } = await readPhoto(body);
    const sha256 = createHash('sha256').update(bytes).digest('hex');
    await this.photos.put(sha256, bytes, type);
    return this.database.act({ who }, async (tx) => {
      const { id } = await lockComplaint(tx, code);
      const [kept] = await tx.query<{ photos: number }[]>(
        'select count(*)::int as photos from complaint_photo where complaint_id = $1',
        [id],
      );
      if (kept!.photos >= PHOTOS_MAX) throw conflict('too-many', `A complaint has at most ${PHOTOS_MAX} photos.`);
      const rows = await tx.query<{ id: number }[]>(
        `insert into complaint_photo (complaint_id, sha256, type, bytes) values ($1, $2, $3, $4)
         on conflict (complaint_id, sha256) do nothing returning id`,
        [id, sha256, type, bytes.length],
      );
      const [row] = await tx.query<{ id: number }[]>(
        'select id from complaint_photo where complaint_id = $1 and sha256 = $2',
        [id, sha256],
      );
      return { id: (rows[0] ?? row)!.id, type, bytes: bytes.length };
    });
  }

  /** Throws a 404 problem. */
  async photo(id: number): Promise<{ bytes: Buffer; type: string }> {
    const [row] = await this.database.read((tx) =>
      tx.query<{ sha256: string; type: string }[]>('select sha256, type from complaint_photo where id = $1', [id]),
    );
    if (!row) throw notFound('photo', id);
    return { bytes: await this.photos.get(row.sha256), type: row.type };
  }
}

async function orderIdOf(
  tx: EntityManager,
  order: { channel: string; number: string },
  pointer: string,
): Promise<number> {
  const rows = await tx.query<{ id: number }[]>('select id from customer_order where channel = $1 and number = $2', [
    order.channel,
    order.number,
  ]);
  if (!rows[0]) throw invalid(pointer, `There is no order ${order.number} of ${order.channel}.`, 'unknown-order');
  return rows[0].id;
}
