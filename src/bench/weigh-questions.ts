import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { goodRange, offBy, toleranceOf } from '../kernel/bench/good-range.js';
import { Problem } from '../platform/problem.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { exactText } from '../ui/amounts.js';
import { besideTarget, goodText } from '../ui/good-range.js';
import type { WeighingCreate } from './bench.schema.js';
import type { BatchLine, LockedBatch } from './locked-batch.js';

/** What is about to be written down of a line, of a lot where it is in one. */
export interface AboutToWeigh {
  batch: LockedBatch;
  line: BatchLine;
  lot?: LockedLot;
  quantity: number;
  body: WeighingCreate;
}

/** What of the body says that it is meant. */
type Answer = 'further' | 'off' | 'found';

/** Something that is asked before it is written, as a refusal says it. */
interface Question {
  code: string;
  detail: string;
  extra: Record<string, unknown>;
}

/**
 * Throws 409 with all that was not said to be meant, in one answer under the code of the first: `already-weighed` what is in
 * the line, `off-target` what is good, `more-than-booked` what the book holds of the lot.
 */
export async function askFirst(tx: EntityManager, act: AboutToWeigh): Promise<void> {
  const open: (Question & { answer: Answer })[] = [];
  for (const [answer, about] of QUESTIONS) {
    const question = act.body[answer] ? null : await about(act, tx);
    if (question) open.push({ answer, ...question });
  }
  if (open.length === 0) return;
  throw new Problem({
    status: 409,
    code: open[0]!.code,
    detail: open.map(({ detail }) => detail).join(' '),
    extra: Object.assign({ asks: open.map(({ answer }) => answer) }, ...open.map(({ extra }) => extra)),
  });
}

const inAlready = (line: BatchLine): number => line.weighed + line.unbooked;

/** What is in the line, by whom and when, where something is. */
async function aboutMore({ batch, line }: AboutToWeigh, tx: EntityManager): Promise<Question | null> {
  const weighed = inAlready(line);
  if (weighed === 0) return null;
  const rows = await tx.query<{ lot: string | null; quantity: number; by: string; at: Date }[]>(
    `select l.code as lot, -m.quantity as quantity, m.created_by as by, m.recorded_at as at
       from standing_movement m join lot l on l.id = m.lot_id
       where m.batch_input_id = $1 and m.cause = 'consumption'
     union all
     select null, quantity, created_by, created_at from bench_entry where batch_input_id = $1 and kind = 'unbooked' and quantity is not null
     order by at`,
    [line.id],
  );
  return {
    code: 'already-weighed',
    detail:
      `${exactText(weighed, line.measure)} of ${line.item} is in batch ${batch.code} already, the last of it by ${rows.at(-1)!.by}. ` +
      'If this is a further portion, say so.',
    extra: { weighed, entries: rows.map((row) => ({ ...row, at: row.at.toISOString() })) },
  };
}

/** What leaves the line above what is good, or below it though nothing more goes in. */
async function aboutTarget({ line, quantity, body }: AboutToWeigh, tx: EntityManager): Promise<Question | null> {
  const rules = await workshopOf(tx);
  const good = goodRange(line.quantity, toleranceOf(line.quantity, line.measure, rules), rules.scaleStepMg);
  const becomes = inAlready(line) + quantity;
  const off = offBy(becomes, line.quantity, good);
  if (off === 0 || (off < 0 && !body.isAll)) return null;
  const [typed, all] = [quantity, becomes].map((one) => besideTarget(one, line.quantity, line.measure));
  const comesTo = becomes === quantity ? '' : `, which makes ${all}`;
  const isAll = off < 0 ? ', and that is said to be all' : '';
  return {
    code: 'off-target',
    detail:
      `${typed} of ${line.name} is typed${comesTo}${isAll}; ` +
      `${goodText(good, line.quantity, line.measure, rules.scaleStepMg)}. If it is so, say so.`,
    extra: { good, becomes },
  };
}

/** What is more than the book holds of the lot, so that the rest would be booked as found. */
function aboutBook({ lot, quantity }: AboutToWeigh): Question | null {
  if (!lot || quantity <= lot.onHand) return null;
  const [held, typed, more] = [lot.onHand, quantity, quantity - lot.onHand].map((one) => exactText(one, lot.measure));
  return {
    code: 'more-than-booked',
    detail: `The book holds ${held} of lot ${lot.code}, and ${typed} is typed. If ${more} more than that was there, say so.`,
    extra: { booked: { lot: lot.code, onHand: lot.onHand, typed: quantity } },
  };
}

type About = (act: AboutToWeigh, tx: EntityManager) => Promise<Question | null> | Question | null;

/** In the order in which they are asked. */
const QUESTIONS: readonly (readonly [Answer, About])[] = [
  ['further', aboutMore],
  ['off', aboutTarget],
  ['found', aboutBook],
];
