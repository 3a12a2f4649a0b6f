import type { INestApplicationContext } from '@nestjs/common';
import { Item } from './catalog/item.entity.js';
import { workshopOf } from './catalog/workshop.service.js';
import type { Config } from './config.js';
import { DemoService } from './demo/demo.service.js';
import { printPlan } from './planning/print-plan.js';
import { urgentLines } from './planning/urgent-pours.js';
import type { RunView } from './planning/planning.schema.js';
import { PlanningService } from './planning/planning.service.js';
import { Clock } from './platform/clock.js';
import { Database } from './platform/database.js';
import { Problem } from './platform/problem.js';
import { drawFor } from './ui/page-workshop.js';

/** Fills an empty database with the demonstration workshop, unless the settings say not to. */
export async function loadDemoIfEmpty(app: INestApplicationContext, config: Config): Promise<void> {
  if (!config.demo) return;
  const loaded = await app.get(DemoService).load(await app.get(Clock).today(), 'demonstration');
  if (loaded) console.error('The database was empty: the invented Quarry Lane Workshop was loaded into it.');
}

/** A week's plan as text for the terminal, in the maker's words. */
export async function planText(app: INestApplicationContext, run: RunView): Promise<string> {
  const { items, workshop, urgent } = await app.get(Database).read(async (tx) => ({
    items: await tx.find(Item),
    workshop: await workshopOf(tx),
    urgent: await urgentLines(tx),
  }));
  return drawFor({ ...workshop, scaleStep: workshop.scaleStepMg }, () =>
    printPlan(run.proposal, {
      items: new Map(items.map((item) => [item.code, item])),
      currency: workshop.currency,
      urgent,
    }),
  );
}

/** Plans the coming week: its text. */
export const weekPlan = async (app: INestApplicationContext): Promise<string> =>
  planText(app, runOf(await app.get(PlanningService).makeDraft('start')));

/** A plan as it is answered by whoever makes it. */
export const runOf = (json: Buffer): RunView => JSON.parse(json.toString()) as RunView;

/** What to say at the terminal of an error a person can act on: the sentence, then each field with its fault. */
export function problemText(problem: Problem): string {
  return [problem.message, ...problem.errors.map(({ pointer, detail }) => `  ${pointer} ${detail}`)].join('\n');
}
