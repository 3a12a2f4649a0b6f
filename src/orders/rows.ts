import type { Columns, Role } from './columns.js';
import type { CsvRecord } from './csv-reader.js';
import { readDay } from './order-dates.js';
import type { DateOrder } from './order-dates.js';
import { fulfilmentMeaning, isCancelled, isUrgent, paidMeaning, statusMeaning } from './order-words.js';
import { WEIGHT_MAX } from './precedence.js';
import { isUnfit } from '../platform/schema.js';
import { count } from '../ui/words.js';

/** The largest quantity an order line may have, in units. */
export const QUANTITY_MAX = 1_000_000_000;
export const NUMBER_LENGTH_MAX = 80;
export const CODE_LENGTH_MAX = 120;
const CUSTOMER_LENGTH_MAX = 200;
const SHOWN_LENGTH_MAX = 60;

/** One row of an order file as the shop means it; null is what the file does not say. */
export interface OrderRow {
  /** The line of the file the record begins in, from 1. */
  line: number;
  channel: string;
  number: string;
  code: string;
  /** In the shop's own units: a three-pack is 1. Negative takes back. */
  quantity: number;
  /** How much of the quantity the shop has sent already. */
  fulfilled: number | null;
  shipBy: string | null;
  notBefore: string | null;
  customer: string | null;
  placedOn: string | null;
  /** Whether the order still waits for payment or a decision. */
  waiting: boolean | null;
  cancelled: boolean;
  /** What the order counts as beside others, and whether it goes before them. */
  weight: number | null;
  urgent: boolean | null;
}

/** Why a row cannot be taken. */
export interface RowProblem {
  line: number;
  /** The header of the column, or '' where the whole row is meant. */
  column: string;
  code: string;
  detail: string;
}

/**
 * A row, or its problems. A bad row that still names its order line keeps that name: it counts among the occurrences of
 * its code, so that the lines after it are the same lines once it is mended.
 */
export type RowReading = { row: OrderRow } | { problems: RowProblem[]; named: OrderRow | null };

export interface RowRules {
  header: readonly string[];
  columns: Columns;
  dates?: DateOrder | undefined;
  /** The workshop's day at an instant, in milliseconds since 1970. */
  dayIn: (ms: number) => string;
  /** Channel codes by what a cell may call them: code or name, in lower case. */
  channels: ReadonlyMap<string, string>;
  /** The channel of rows that name none, or one nobody knows. */
  channel?: string | undefined;
}

type Report = (role: Role | null, code: string, detail: string) => void;
type Cells = (role: Role) => string;

/** What an order states once, in a file that may leave it out in the order's further rows. */
const ORDER_ROLES = [
  'customer',
  'placedOn',
  'channel',
  'status',
  'paid',
  'cancelledOn',
] as const satisfies readonly Role[];
/** Stated for a whole order; the day it was cancelled may instead be stated for each line. */
const STATED_ROLES = ORDER_ROLES.filter((role) => role !== 'cancelledOn');
const INHERITED_ROLES: ReadonlySet<Role> = new Set<Role>([...ORDER_ROLES, 'shipBy', 'notBefore']);

/**
 * Makes the reader of one file's rows. It remembers the row before: a row with the same order number and nothing else
 * that belongs to an order inherits from it, since many exports state an order's facts in its first row only.
 */
export function rowReader(rules: RowRules): (record: CsvRecord) => RowReading {
  const { header, columns } = rules;
  let before: Cells | null = null;
  return (record) => {
    const problems: RowProblem[] = [];
    const report: Report = (role, code, detail) =>
      problems.push({ line: record.line, column: role ? shown(header[columns[role]!] ?? role) : '', code, detail });
    if (isRagged(record.cells, header.length)) {
      report(null, 'ragged', `The row has ${record.cells.length} cells and the header ${header.length}.`);
      before = null;
      return { problems, named: null };
    }
    const own: Cells = (role) => cellOf(record.cells, columns, role);
    const cells = inheriting(own, before);
    before = cells;
    const row = readRow(record.line, cells, rules, report);
    if (problems.length === 0) return { row };
    return { problems, named: row.channel && row.number && row.code ? row : null };
  };
}

/** Blank cells after the last column are a spreadsheet's, not the row's. */
function isRagged(cells: readonly string[], columnCount: number): boolean {
  return cells.length < columnCount || cells.slice(columnCount).some((cell) => cell.trim() !== '');
}

function cellOf(cells: readonly string[], columns: Columns, role: Role): string {
  const place = columns[role];
  const text = place === undefined ? '' : cells[place]!.trim();
  if (!text.startsWith("'")) return text;
  // a spreadsheet's mark for "this is text"; before a name only where the name would be calculated: 't Hart is a name
  return role !== 'customer' || /^'[=+\-@]/.test(text) ? text.slice(1) : text;
}

function inheriting(own: Cells, before: Cells | null): Cells {
  const continues =
    before !== null &&
    own('number') === before('number') &&
    ORDER_ROLES.every((role) => own(role) === '') &&
    STATED_ROLES.some((role) => before(role) !== '');
  if (!continues) return own;
  // resolved now, so that a long order does not become a long chain
  const inherited = new Map([...INHERITED_ROLES].map((role) => [role, own(role) || before(role)]));
  return (role) => inherited.get(role) ?? own(role);
}

function readRow(line: number, cells: Cells, rules: RowRules, report: Report): OrderRow {
  const number = readName('number', NUMBER_LENGTH_MAX, cells, report);
  const code = readName('code', CODE_LENGTH_MAX, cells, report);
  const channel = readChannel(cells, rules, report);
  const state = readState(cells, rules, report);
  const quantity = readQuantity(cells('quantity'), state.cancelled, report);
  const placedOn = readDate('placedOn', cells, rules, report);
  const shipBy = readDate('shipBy', cells, rules, report);
  const notBefore = readDate('notBefore', cells, rules, report);
  if (cells('placedOn') === '' && cells('shipBy') === '')
    report(rules.columns.placedOn === undefined ? 'shipBy' : 'placedOn', 'missing', 'The row has no date.');
  if (shipBy !== null && notBefore !== null && notBefore > shipBy)
    report('notBefore', 'dates-cross', `Not before ${notBefore} is after ship by ${shipBy}.`);
  return {
    line,
    channel,
    number,
    code,
    quantity,
    fulfilled: readFulfilled(cells, quantity, state.fulfilled, report),
    shipBy,
    notBefore,
    customer: readCustomer(cells, report),
    placedOn,
    waiting: state.waiting,
    cancelled: state.cancelled,
    weight: readWeight(cells('weight'), report),
    urgent: readUrgent(cells('urgent'), report),
  };
}

function readName(role: 'number' | 'code', lengthMax: number, cells: Cells, report: Report): string {
  const text = cells(role);
  if (text === '')
    report(role, 'missing', role === 'code' ? 'The item code is missing.' : 'The order number is missing.');
  else if (isUnfit(text))
    report(role, 'control-characters', 'The cell holds control characters or marks that turn the direction of text.');
  else if (text.length > lengthMax)
    report(role, 'too-long', `"${shown(text)}" is longer than ${lengthMax} characters.`);
  else return text;
  return '';
}

function readCustomer(cells: Cells, report: Report): string | null {
  // a line end inside a quoted name is a blank to whoever reads it
  const text = cells('customer').replace(/\s+/g, ' ').normalize('NFC');
  if (text === '') return null;
  // what cannot be a name goes no further: it may be a megabyte long
  if (isUnfit(text))
    report(
      'customer',
      'control-characters',
      'The customer name holds control characters or marks that turn the direction of text.',
    );
  else if (text.length > CUSTOMER_LENGTH_MAX)
    report('customer', 'too-long', `The customer name is longer than ${CUSTOMER_LENGTH_MAX} characters.`);
  else return text;
  return null;
}

function readChannel(cells: Cells, rules: RowRules, report: Report): string {
  const text = cells('channel');
  const known = rules.channels.get(text.toLowerCase()) ?? rules.channel;
  if (known !== undefined) return known;
  if (text === '') report('channel', 'missing', 'The channel is missing, and none is named for the whole file.');
  else report('channel', 'unknown-channel', `There is no channel "${shown(text)}".`);
  return '';
}

/**
 * A positive whole number such as 2 or 2.0; one with a minus takes back. Refused are 1,5 and 1.5, and also 1,000 and
 * 1.000: to one reader a thousand, to another one. A cancelled row may say 0.
 */
function readQuantity(text: string, cancelled: boolean, report: Report): number {
  if (text === '') report('quantity', 'missing', 'The quantity is missing.');
  else if (!/^[-\u2212]?\d+(?:\.0{1,2})?$/.test(text))
    report('quantity', 'not-a-whole-number', `"${shown(text)}" is not a whole number.`);
  else {
    const quantity = Number(text.replace('\u2212', '-'));
    if (Math.abs(quantity) > QUANTITY_MAX)
      report('quantity', 'too-large', `"${shown(text)}" is more than ${QUANTITY_MAX}.`);
    else if (quantity === 0 && !cancelled) report('quantity', 'not-positive', 'The quantity is 0.');
    else return quantity;
  }
  return 0;
}

function readDate(
  role: 'placedOn' | 'shipBy' | 'notBefore',
  cells: Cells,
  rules: RowRules,
  report: Report,
): string | null {
  const text = cells(role);
  if (text === '') return null;
  const reading = readDay(text, rules.dates, rules.dayIn);
  if ('day' in reading) return reading.day;
  report(role, 'date', `"${shown(text)}" ${reading.reason}.`);
  return null;
}

interface RowState {
  waiting: boolean | null;
  cancelled: boolean;
  fulfilled: boolean;
}

/** Status, payment and cancellation together. A payment column decides about payment, whatever the status says. */
function readState(cells: Cells, rules: RowRules, report: Report): RowState {
  const status = readMeaning('status', cells, statusMeaning, report);
  const paid = rules.columns.paid === undefined ? undefined : readPaid(cells('paid'), rules, report);
  const waiting =
    status === 'hold' ? true : paid !== undefined ? paid !== 'paid' : status !== undefined ? status === 'unpaid' : null;
  return {
    waiting,
    cancelled:
      status === 'cancelled' ||
      paid === 'cancelled' ||
      fulfilmentMeaning(cells('fulfilment')) === 'cancelled' ||
      readCancelledOn(cells('cancelledOn'), rules, report),
    fulfilled: status === 'fulfilled',
  };
}

/** Paid only where the file says so: a word for it, or the day it was paid. A blank cell waits. */
function readPaid(text: string, rules: RowRules, report: Report): 'paid' | 'unpaid' | 'cancelled' {
  if (text === '') return 'unpaid';
  const meaning = paidMeaning(text);
  if (meaning !== undefined) return meaning;
  const reading = readDay(text, rules.dates, rules.dayIn);
  if ('day' in reading) return 'paid';
  report('paid', 'unknown-word', unknownWord(text));
  return 'unpaid';
}

function readCancelledOn(text: string, rules: RowRules, report: Report): boolean {
  if (text === '') return false;
  const answer = isCancelled(text);
  if (answer !== undefined) return answer === 'yes';
  const reading = readDay(text, rules.dates, rules.dayIn);
  if (!('day' in reading)) report('cancelledOn', 'date', `"${shown(text)}" ${reading.reason}.`);
  return true;
}

/** A whole number such as 3 or 3.0. */
function readWeight(text: string, report: Report): number | null {
  if (text === '') return null;
  const weight = /^\d{1,9}(?:\.0{1,2})?$/.test(text) ? Number(text) : 0;
  if (weight >= 1 && weight <= WEIGHT_MAX) return weight;
  report('weight', 'weight', `"${shown(text)}" is not a whole number from 1 to ${WEIGHT_MAX}.`);
  return null;
}

function readUrgent(text: string, report: Report): boolean | null {
  if (text === '') return null;
  const answer = isUrgent(text);
  if (answer === undefined)
    report('urgent', 'unknown-word', `"${shown(text)}" is neither yes nor no: write one of them, or leave it blank.`);
  return answer === undefined ? null : answer === 'yes';
}

function readMeaning<M>(
  role: Role,
  cells: Cells,
  meaningOf: (text: string) => M | undefined,
  report: Report,
): M | undefined {
  const text = cells(role);
  if (text === '') return undefined;
  const meaning = meaningOf(text);
  if (meaning === undefined) report(role, 'unknown-word', unknownWord(text));
  return meaning;
}

/** How much is sent already: the quantity column first, then what the fulfilment and the order's status say. */
function readFulfilled(cells: Cells, quantity: number, all: boolean, report: Report): number | null {
  const stated = readFulfilledQuantity(cells('fulfilled'), quantity, report);
  const word = cells('fulfilment');
  const meaning = word === '' || isDate(word) ? undefined : readMeaning('fulfilment', cells, fulfilmentMeaning, report);
  if (stated !== null || quantity <= 0) return quantity <= 0 ? null : stated;
  if (meaning === 'part')
    report('fulfilment', 'part-of-what', 'The line is partly fulfilled, and no column says how many are.');
  if (meaning === 'none') return 0;
  return meaning === 'all' || all || isDate(word) ? quantity : null;
}

function readFulfilledQuantity(text: string, quantity: number, report: Report): number | null {
  if (text === '') return null;
  if (!/^\d+(?:\.0{1,2})?$/.test(text)) {
    report('fulfilled', 'not-a-whole-number', `"${shown(text)}" is not a whole number.`);
    return null;
  }
  const fulfilled = Number(text);
  if (fulfilled <= Math.max(quantity, 0)) return fulfilled;
  if (quantity > 0)
    report(
      'fulfilled',
      'too-large',
      `${shown(text)} are fulfilled, but only ${count(quantity, 'piece')} were ordered.`,
    );
  return null;
}

/** A fulfilment column may hold the day it was sent; which day does not matter. */
function isDate(text: string): boolean {
  return 'day' in readDay(text, 'dmy', () => '') || 'day' in readDay(text, 'mdy', () => '');
}

function unknownWord(text: string): string {
  return `"${shown(text)}" is not a word known here. Change it, or leave the column out of the import.`;
}

/** A piece of somebody's file as it may stand in a message. */
function shown(text: string): string {
  const printable = text.replace(/\p{Cc}/gu, '\ufffd');
  return printable.length > SHOWN_LENGTH_MAX ? `${printable.slice(0, SHOWN_LENGTH_MAX)}…` : printable;
}
