import type { Model } from '../../src/kernel/plan/model.js';
import type { Netted } from '../../src/kernel/plan/netting.js';

/** Amounts by item and day (days since 1970). */
export type AmountsByDay = Map<string, Map<number, number>>;

function add(amounts: AmountsByDay, item: string, day: number, quantity: number): void {
  let days = amounts.get(item);
  if (!days) amounts.set(item, (days = new Map()));
  days.set(day, (days.get(day) ?? 0) + quantity);
}

/** What is needed of every item, by the day it is needed: what was ordered, and what batches take when they start. */
export function needsByDay(model: Model, netted: Netted): AmountsByDay {
  const needs: AmountsByDay = new Map();
  for (const line of netted.lines) add(needs, line.item.code, Math.max(line.shipBy, model.start), line.row.quantity);
  for (const job of netted.jobs)
    for (const input of job.inputs) add(needs, input.item.code, Math.max(job.latest, model.start), input.quantity);
  return needs;
}

/** What batches bring, by the day they must start, or the day it is there. */
export function madeByDay(netted: Netted, day: 'starts' | 'ready'): AmountsByDay {
  const made: AmountsByDay = new Map();
  for (const job of netted.jobs)
    add(made, job.item.code, job.latest + (day === 'ready' ? job.formula.restDays : 0), job.output);
  return made;
}
