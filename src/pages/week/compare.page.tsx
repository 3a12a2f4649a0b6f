import { Get, Param } from '@nestjs/common';
import { z } from 'zod';
import { CompareService, type Comparison, type PourChange } from '../../planning/compare.service.js';
import type { Change } from '../../planning/what-changed.js';
import { shortDay } from '../../ui/dates.js';
import { isoDay } from '../../platform/schema.js';
import { Page } from '../../ui/layout.js';
import type { Term } from '../../kernel/plan/terms.js';
import { termsText } from '../../ui/plan-terms.js';
import { amountText } from '../../ui/amounts.js';
import { PageController } from '../../ui/page-controller.js';

const weekPath = z.strictObject({ start: isoDay });

/** What the things a plan is made from are called. */
const WHAT: Record<string, string> = {
  items: 'Item',
  formulas: 'Formula of',
  vessels: 'Vessel',
  lots: 'Lot',
  deliveries: 'Delivery',
  making: 'Batch being made',
  lines: 'Order line',
  packs: 'Pack',
  use: 'Past use of',
  workshop: 'The workshop',
  people: 'Who works here, when, and what only some may do',
  washing: 'What is said of washing, or stands in a vessel',
  today: 'The day',
};

/** The newest plan of a week beside the one before: what is different, and why. */
@PageController('week')
export class ComparePage {
  constructor(private readonly comparisons: CompareService) {}

  @Get(':start/compare')
  async show(@Param({ schema: weekPath }) { start }: z.infer<typeof weekPath>) {
    return <CompareView start={start} comparison={await this.comparisons.compare(start)} />;
  }
}

function CompareView({ start, comparison }: { start: string; comparison: Comparison | null }): JSX.Element {
  return (
    <Page title={`What changed, week from ${shortDay(start)}`} at="/week">
      <h1 safe>{`What changed in the week from ${shortDay(start)}`}</h1>
      {comparison ? <Differences comparison={comparison} /> : <p>This week has been planned only once so far.</p>}
      <p class="no-print">
        <a class="button" href={`/week/${start}`}>
          Back to the week
        </a>
      </p>
    </Page>
  );
}

function Differences({ comparison }: { comparison: Comparison }): JSX.Element {
  return (
    <>
      <p class="hint" safe>{`Plan ${comparison.after.id} beside plan ${comparison.before.id}`}</p>
      <h2>The pours</h2>
      {comparison.pours.length === 0 ? <p>The same pours on the same days.</p> : <Pours pours={comparison.pours} />}
      <h2>Why</h2>
      {comparison.changes.length === 0 ? (
        <p>Nothing they are made from is different.</p>
      ) : (
        <ul>
          {comparison.changes.map((change) => (
            <li safe>{changeText(change)}</li>
          ))}
        </ul>
      )}
    </>
  );
}

function Pours({ pours }: { pours: readonly PourChange[] }): JSX.Element {
  const text = (pour: PourChange, at: PourChange['before']): string =>
    at ? `${amountText(at.output, pour.measure)} on ${shortDay(at.day)}` : 'not planned';
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>What</th>
          <th>Before</th>
          <th>Now</th>
        </tr>
      </thead>
      <tbody>
        {pours.map((pour) => (
          <tr>
            <th scope="row" safe>
              {pour.name}
            </th>
            <td data-label="Before" safe>
              {text(pour, pour.before)}
            </td>
            <td data-label="Now" safe>
              {text(pour, pour.after)}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function changeText(change: Change): string {
  const what = ['workshop', 'people', 'washing'].includes(change.what)
    ? WHAT[change.what]!
    : `${WHAT[change.what] ?? change.what} ${change.key}`;
  if (change.what === 'today') return `The day: ${String(change.was)}, now ${String(change.now)}`;
  if (change.change !== 'changed' || change.now === undefined) return `${what}: ${change.change}`;
  const was = (change.was ?? {}) as Record<string, unknown>;
  const fields = Object.entries((change.now ?? {}) as Record<string, unknown>).map(
    ([field, now]) => `${fieldText(field)} ${valueText(was[field], field)}, now ${valueText(now, field)}`,
  );
  return `${what}: ${fields.join('; ')}`;
}

/** What would be misread: a line's weight is none in grams. */
const FIELDS: Record<string, string> = { weight: 'counts as', terms: 'what counts first' };

/** `shipBy` reads as `ship by`. */
const fieldText = (field: string): string =>
  FIELDS[field] ?? field.replace(/E4$|Mg$/, '').replace(/[A-Z]/g, (c) => ` ${c.toLowerCase()}`);

function valueText(value: unknown, field: string): string {
  if (field === 'terms') return termsText((value ?? []) as Term[]);
  if (value === null || value === undefined) return 'none';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return typeof value === 'object' ? 'otherwise' : `${value as string | number}`;
}
