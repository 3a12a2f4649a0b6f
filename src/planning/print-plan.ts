import type { LineCover, ProposedBatch, Proposal } from '../kernel/plan/proposal.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { amountText } from '../ui/amounts.js';
import { decantText, fullText, REASONS, restWord, SIZE_LIMITS, washText } from '../ui/words.js';
import { longDay, shortDay } from '../ui/dates.js';
import { partsText, waitText } from '../ui/sends.js';
import { urgentProposed } from './urgent-pours.js';
import { byText } from '../kernel/measure/text-order.js';

/** What the printed plan has to know of each item. */
export interface PrintedItem {
  name: string;
  measure: Measure;
  family: string;
}

/** Rows of one section before the rest is only counted. */
const ROWS_MAX = 40;

/** What the workshop says now of what a plan names. */
export interface Printed {
  items: ReadonlyMap<string, PrintedItem>;
  /** ISO 4217. */
  currency: string;
  /** Keys of the lines of urgent orders. */
  urgent: ReadonlySet<string>;
}

/** The week's plan as text for a terminal, in the maker's words. */
export function printPlan(proposal: Proposal, printed: Printed): string {
  const print = new Printer(printed, urgentProposed(proposal.batches, printed.urgent));
  const week = proposal.batches.filter((batch) => batch.inWeek);
  return [
    `Week's plan, ${longDay(proposal.weekStart)} to ${longDay(proposal.weekEnd)} (made on ${longDay(proposal.today)})`,
    ...dayLines(proposal, week, print),
    ...section('Set aside for the week', setAside(week, print)),
    ...section('Short', shortLines(proposal, print)),
    ...section('Late or not covered', lateLines(proposal, print)),
    ...fullLines(proposal, print),
    ...section('About to expire', riskLines(proposal, print)),
    '',
    summary(proposal, week),
  ].join('\n');
}

class Printer {
  constructor(
    private readonly printed: Printed,
    private readonly urgentBatches: ReadonlySet<string>,
  ) {}

  name(code: string): string {
    return this.printed.items.get(code)?.name ?? code;
  }

  amount(code: string, quantity: number): string {
    return amountText(quantity, this.printed.items.get(code)?.measure ?? 'counted');
  }

  /** Of an order line or a batch. */
  urgent(key: string): string {
    return this.printed.urgent.has(key) || this.urgentBatches.has(key) ? 'URGENT' : '';
  }

  rest(batch: ProposedBatch): string {
    return restWord(this.printed.items.get(batch.item)?.family, batch.vessel !== null);
  }

  money(valueE4: number): string {
    return new Intl.NumberFormat('en', { style: 'currency', currency: this.printed.currency }).format(valueE4 / 10_000);
  }
}

function dayLines(proposal: Proposal, week: readonly ProposedBatch[], print: Printer): string[] {
  if (week.length === 0) return ['', 'Nothing to pour: every order is covered and every shelf is full.'];
  return proposal.days.flatMap((load) => {
    const batches = week.filter((batch) => batch.day === load.day);
    if (batches.length === 0) return [];
    const heading = `${shortDay(load.day)}   ${load.minutesUsed} of ${load.minutesOpen} bench minutes`;
    return ['', heading, ...table(batches.map((batch) => batchRow(batch, print)))];
  });
}

function batchRow(batch: ProposedBatch, print: Printer): string[] {
  const rest =
    batch.restDays > 0 && batch.readyOn
      ? `${print.rest(batch)} until ${shortDay(batch.readyOn)}`
      : 'ready the same day';
  return [
    batch.key,
    print.name(batch.item),
    print.amount(batch.item, batch.output),
    batch.vessel ?? '-',
    rest,
    [
      print.urgent(batch.key),
      madeFor(batch, print),
      batch.belowLeast ? `less than a batch should be: ${SIZE_LIMITS[batch.belowLeast]}` : '',
      batch.wash && batch.vessel ? washText({ ...batch.wash, after: print.name(batch.wash.after) }, batch.vessel) : '',
      batch.decant && batch.vessel ? decantText(batch.decant, batch.vessel) : '',
    ]
      .filter((part) => part !== '')
      .join('; '),
  ];
}

function madeFor(batch: ProposedBatch, print: Printer): string {
  const lines = batch.madeFor.filter((peg) => peg.for === 'line').length;
  const batches = batch.madeFor.filter((peg) => peg.for === 'batch').map((peg) => peg.key);
  const stock = batch.madeFor.find((peg) => peg.for === 'stock');
  const parts = [
    lines > 0 ? `${lines} order ${lines === 1 ? 'line' : 'lines'}` : '',
    batches.length > 3 ? `${batches.length} batches` : batches.join(', '),
    stock ? `${print.amount(batch.item, stock.quantity)} for stock` : '',
  ].filter((part) => part !== '');
  return `made for ${parts.join(', ')}${batch.short ? '; SHORT' : ''}`;
}

/** Lots of the week with what is taken of each, so that they can be fetched in one walk. */
function setAside(week: readonly ProposedBatch[], print: Printer): string[][] {
  const taken = new Map<string, { item: string; lot: string; quantity: number; batches: Set<string> }>();
  for (const batch of week)
    for (const input of batch.inputs)
      for (const take of input.taken) {
        if (take.from !== 'lot') continue;
        const row = taken.get(take.key) ?? { item: input.item, lot: take.key, quantity: 0, batches: new Set() };
        row.quantity += take.quantity;
        row.batches.add(batch.key);
        taken.set(take.key, row);
      }
  return [...taken.values()]
    .sort((a, b) => byText(a.item, b.item) || byText(a.lot, b.lot))
    .map((row) => [
      row.lot,
      print.name(row.item),
      print.amount(row.item, row.quantity),
      `for ${listed([...row.batches])}`,
    ]);
}

function shortLines(proposal: Proposal, print: Printer): string[][] {
  return proposal.shortfalls.map((row) => {
    const packs = row.packs.map(({ key, count }) => `${count} x ${key}`).join(' + ');
    const order = row.orderBy
      ? `order ${packs} (${print.money(row.costE4)}) by ${shortDay(row.orderBy)}${row.tooLate ? ', which is past' : ''}`
      : 'nobody is known to sell it';
    const hurts = row.hurts.lines.length;
    return [
      row.item,
      print.name(row.item),
      `${print.amount(row.item, row.quantity)} short on ${shortDay(row.needOn)}`,
      order,
      hurts > 0 ? `hurts ${hurts} order ${hurts === 1 ? 'line' : 'lines'}` : 'only stock waits for it',
    ];
  });
}

function lateLines(proposal: Proposal, print: Printer): string[][] {
  return proposal.lines
    .filter((line) => line.lateDays > 0 || line.missing > 0)
    .map((line) => [
      line.key,
      print.name(line.item),
      `ship by ${shortDay(line.shipBy)}`,
      readyText(line, print),
      [print.urgent(line.key), whyText(line, print)].filter((part) => part !== '').join('; '),
    ]);
}

function readyText(line: LineCover, print: Printer): string {
  if (line.parts && line.parts.length > 0) return partsText(line.parts, line);
  return line.readyOn
    ? `ready ${shortDay(line.readyOn)}, ${line.lateDays} ${line.lateDays === 1 ? 'day' : 'days'} late`
    : `${print.amount(line.item, line.missing)} of ${print.amount(line.item, line.quantity)} not covered`;
}

const whyText = ({ because, waitsFor }: LineCover, print: Printer): string =>
  waitsFor ? waitText({ ...waitsFor, name: print.name(waitsFor.item) }) : REASONS[because ?? 'short'];

/** What a full plan has no room for. */
function fullLines({ full, lines }: Proposal, print: Printer): string[] {
  if (!full) return [];
  const leftOut = lines.filter(({ because }) => because === 'plan-full').length;
  const rows = full.refills.map(({ item, quantity }) => [
    item,
    print.name(item),
    `${print.amount(item, quantity)} less than should be in stock`,
  ]);
  return ['', fullText(full.batchesMost, leftOut), ...section('No room for stock', rows)];
}

function riskLines(proposal: Proposal, print: Printer): string[][] {
  return proposal.atRisk.map((row) => [
    row.lot,
    print.name(row.item),
    `last day ${shortDay(row.expiresOn)}`,
    row.left === null
      ? `${print.amount(row.item, row.freeAfterPlan)} free, past use unknown`
      : `${print.amount(row.item, row.left)} likely left, worth ${print.money(row.valueE4 ?? 0)}`,
    row.usableIn.length > 0 ? `goes into ${listed(row.usableIn)}` : '',
  ]);
}

function summary(proposal: Proposal, week: readonly ProposedBatch[]): string {
  const late = proposal.lines.filter((line) => line.lateDays > 0).length;
  const open = proposal.lines.filter((line) => line.missing > 0).length;
  return (
    `${week.length} batches this week, ${proposal.batches.length - week.length} later; ${proposal.lines.length} order lines: ` +
    `${proposal.lines.length - late - open} in time, ${late} late, ${open} not covered; ${proposal.shortfalls.length} ${proposal.shortfalls.length === 1 ? 'item' : 'items'} short.`
  );
}

function section(title: string, rows: string[][]): string[] {
  if (rows.length === 0) return [];
  const more = rows.length > ROWS_MAX ? [`  and ${rows.length - ROWS_MAX} more`] : [];
  return ['', title, ...table(rows.slice(0, ROWS_MAX)), ...more];
}

/** Columns wide enough for their longest cell. */
function table(rows: readonly string[][]): string[] {
  const widths = rows.reduce<number[]>((w, row) => row.map((cell, i) => Math.max(w[i] ?? 0, cell.length)), []);
  return rows.map((row) => `  ${row.map((cell, i) => cell.padEnd(widths[i] ?? 0)).join('  ')}`.trimEnd());
}

const listed = (names: readonly string[]): string =>
  names.length > 3 ? `${names.slice(0, 3).join(', ')} and ${names.length - 3} more` : names.join(', ');
