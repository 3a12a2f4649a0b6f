import { PPB_ONE } from '../measure/quantity.js';
import { largestRemainder } from './scaling.js';

/** How a line's amount is stated; `each` and `fixed` lie outside the 100 %. */
export type Basis = 'share' | 'load' | 'ratio' | 'qs' | 'each' | 'fixed';

export interface FormulaLine {
  position: number;
  basis: Basis;
  /** share, load: parts per billion; ratio: 1e9 is 1; each, fixed: mg or units; qs: null */
  amount: number | null;
  /** a `load` counts on the lines marked as base */
  isBase: boolean;
  /** positions of the lines a `ratio` counts on */
  ratioOf: readonly number[];
}

export type FormulaErrorCode =
  | 'no-lines'
  | 'too-many-lines'
  | 'duplicate-position'
  | 'bad-amount'
  | 'bad-base'
  | 'load-without-base'
  | 'ratio-names-unknown-line'
  | 'ratio-loop'
  | 'shares-past-100'
  | 'no-solution'
  | 'many-solutions'
  | 'negative-line';

export interface FormulaError {
  code: FormulaErrorCode;
  /** the lines at fault, ascending (a loop in its own order) */
  positions: number[];
  message: string;
}

export type SolvedFormula =
  /** parts per billion of the weight put in, by index of the line given, summing to 1e9; null outside the 100 % */
  { ok: true; partsPpb: (number | null)[] } | { ok: false; errors: FormulaError[] };

export const MAX_FORMULA_LINES = 64;

/**
 * What is in one part of it: solves the lines as one linear system over exact rationals.
 *
 * The unknowns are the weight fractions of the lines inside the 100 %. A share is its amount, a load its amount times
 * the base lines together, a ratio its amount times the lines it names together, qs has no equation, and all sum to
 * one. Accepted only when the solution is unique and nowhere negative; else every structural error, or the one reason
 * why the system fails. A formula of only `each` and `fixed` lines has no weight fractions and is fine.
 */
export function solveFormula(lines: readonly FormulaLine[]): SolvedFormula {
  const errors = structuralErrors(lines);
  if (errors.length > 0) return { ok: false, errors };
  const weighed = lines.filter(isByWeight).toSorted((a, b) => a.position - b.position);
  if (weighed.length === 0) return { ok: true, partsPpb: lines.map(() => null) };
  const solution = solveExactly([...equations(weighed), sumToOne(weighed)], weighed.length);
  const reason = solutionError(weighed, solution);
  if (reason) return { ok: false, errors: [reason] };
  const parts = largestRemainder(solution.numerators, PPB_ONE);
  const partAt = new Map(weighed.map((line, index) => [line.position, parts[index]!]));
  return { ok: true, partsPpb: lines.map((line) => partAt.get(line.position) ?? null) };
}

const isByWeight = (line: FormulaLine): boolean => line.basis !== 'each' && line.basis !== 'fixed';

function structuralErrors(lines: readonly FormulaLine[]): FormulaError[] {
  if (lines.length === 0) return [fault('no-lines', [], 'A formula needs at least one line.')];
  if (lines.length > MAX_FORMULA_LINES)
    return [fault('too-many-lines', [], `A formula has at most ${MAX_FORMULA_LINES} lines.`)];
  const errors: FormulaError[] = [];
  const report = (code: FormulaErrorCode, at: readonly FormulaLine[], message: string) => {
    if (at.length > 0) errors.push(fault(code, ascending(at), message));
  };
  const weighed = lines.filter(isByWeight);
  const known = new Set(weighed.map((line) => line.position));
  report(
    'duplicate-position',
    lines.filter((line, index) => lines.findIndex((other) => other.position === line.position) !== index),
    'Two lines have the same position.',
  );
  report(
    'bad-amount',
    lines.filter(hasBadAmount),
    'The amount must be a whole number not below zero, and none for qs.',
  );
  report(
    'bad-base',
    lines.filter((line) => line.isBase && (line.basis === 'load' || !isByWeight(line))),
    'A load, and a line outside the 100 %, cannot be base.',
  );
  if (!weighed.some((line) => line.isBase))
    report(
      'load-without-base',
      weighed.filter((line) => line.basis === 'load'),
      'A load counts on base lines, and no line is marked as base.',
    );
  const ratios = weighed.filter((line) => line.basis === 'ratio');
  report(
    'ratio-names-unknown-line',
    ratios.filter((line) => line.ratioOf.length === 0 || line.ratioOf.some((position) => !known.has(position))),
    'A ratio must name lines of this formula that are inside the 100 %.',
  );
  const loop = ratioLoop(ratios);
  if (loop)
    errors.push(fault('ratio-loop', loop, `Ratios count on each other in a loop: ${[...loop, loop[0]].join(' -> ')}.`));
  const shares = weighed.filter((line) => line.basis === 'share');
  const shareSum = shares.reduce((sum, line) => sum + (line.amount ?? 0), 0);
  if (shareSum > PPB_ONE)
    report('shares-past-100', shares, `The shares come to ${percentText(BigInt(shareSum), BigInt(PPB_ONE))}.`);
  return errors;
}

function hasBadAmount(line: FormulaLine): boolean {
  if (line.basis === 'qs') return line.amount !== null;
  return line.amount === null || !Number.isSafeInteger(line.amount) || line.amount < 0;
}

/** The first loop among ratio lines, each naming the next, starting at its lowest position; null when there is none. */
function ratioLoop(ratios: readonly FormulaLine[]): number[] | null {
  const names = new Map(ratios.map((line) => [line.position, line.ratioOf]));
  const finished = new Set<number>();
  const walk = (position: number, path: number[]): number[] | null => {
    const seenAt = path.indexOf(position);
    if (seenAt >= 0) return path.slice(seenAt);
    if (finished.has(position)) return null;
    // depth is at most the 64 lines of a formula
    for (const next of names.get(position) ?? []) {
      const loop = walk(next, [...path, position]);
      if (loop) return loop;
    }
    finished.add(position);
    return null;
  };
  for (const position of ascending(ratios)) {
    const loop = walk(position, []);
    if (!loop) continue;
    const start = loop.indexOf(Math.min(...loop));
    return [...loop.slice(start), ...loop.slice(0, start)];
  }
  return null;
}

/** A row of whole numbers: the coefficients of the unknowns, then the right-hand side. */
type Row = bigint[];

/** One row a line that is not qs, multiplied by 1e9 to make it whole. */
function equations(lines: readonly FormulaLine[]): Row[] {
  const rows: Row[] = [];
  for (const [index, line] of lines.entries()) {
    if (line.basis === 'qs') continue;
    const amount = BigInt(line.amount ?? 0);
    const named = new Set(line.ratioOf);
    const row: Row = lines.map((other) => {
      const counts = line.basis === 'load' ? other.isBase : line.basis === 'ratio' && named.has(other.position);
      return counts ? -amount : 0n;
    });
    row[index]! += BigInt(PPB_ONE);
    row.push(line.basis === 'share' ? amount : 0n);
    rows.push(row);
  }
  return rows;
}

const sumToOne = (lines: readonly FormulaLine[]): Row => [...lines.map(() => 1n), 1n];

interface LinearSolution {
  isConsistent: boolean;
  /** columns whose value the equations leave open */
  open: number[];
  /** unknown i is numerators[i] / denominator when consistent and nothing is open */
  numerators: bigint[];
  denominator: bigint;
}

/** Fraction-free Gauss-Jordan elimination (Bareiss): every division is exact, the last pivot is the denominator. */
function solveExactly(rows: Row[], columns: number): LinearSolution {
  const matrix = rows.map(reduced);
  const pivotColumns: number[] = [];
  let previous = 1n;
  for (let column = 0; column < columns; column++) {
    const at = pivotColumns.length;
    const found = matrix.findIndex((row, index) => index >= at && row[column] !== 0n);
    if (found < 0) continue;
    [matrix[at], matrix[found]] = [matrix[found]!, matrix[at]!];
    const pivotRow = matrix[at];
    const pivot = pivotRow[column]!;
    for (const [index, row] of matrix.entries()) {
      if (index === at) continue;
      const factor = row[column]!;
      for (let k = 0; k <= columns; k++) row[k] = (row[k]! * pivot - factor * pivotRow[k]!) / previous;
    }
    previous = pivot;
    pivotColumns.push(column);
  }
  const numerators = Array.from<bigint>({ length: columns }).fill(0n);
  for (const [index, column] of pivotColumns.entries()) numerators[column] = matrix[index]![columns]!;
  const sign = previous < 0n ? -1n : 1n;
  const isFree = (column: number) => !pivotColumns.includes(column);
  const isOpen = (column: number) =>
    isFree(column) || matrix[pivotColumns.indexOf(column)]!.some((c, k) => k < columns && isFree(k) && c !== 0n);
  return {
    isConsistent: matrix.slice(pivotColumns.length).every((row) => row[columns] === 0n),
    open: Array.from({ length: columns }, (_, column) => column).filter(isOpen),
    numerators: numerators.map((n) => n * sign),
    denominator: previous * sign,
  };
}

/** The row divided by its greatest common divisor, which keeps the elimination's numbers short. */
function reduced(row: Row): Row {
  const divisor = row.reduce(gcd, 0n);
  return divisor > 1n ? row.map((n) => n / divisor) : [...row];
}

function gcd(a: bigint, b: bigint): bigint {
  while (b !== 0n) [a, b] = [b, a % b];
  return a < 0n ? -a : a;
}

function solutionError(lines: readonly FormulaLine[], solution: LinearSolution): FormulaError | null {
  const positionsOf = (columns: readonly number[]) => columns.map((column) => lines[column]!.position);
  const qs = lines.filter((line) => line.basis === 'qs');
  if (!solution.isConsistent) return fault('no-solution', ascending(lines), whyNone(lines));
  if (solution.open.length > 0) {
    const isQs = qs.length > 1;
    return fault(
      'many-solutions',
      isQs ? ascending(qs) : positionsOf(solution.open),
      isQs ? 'More than one line fills up to 100 % (qs).' : 'These lines could take more than one amount.',
    );
  }
  const negative = solution.numerators.flatMap((n, column) => (n < 0n ? [column] : []));
  if (negative.length === 0) return null;
  const worst = solution.numerators[negative[0]!]!;
  return fault(
    'negative-line',
    positionsOf(negative),
    `A line would be ${percentText(worst, solution.denominator)}: the others come to more than 100 %.`,
  );
}

function whyNone(lines: readonly FormulaLine[]): string {
  const withoutSum = solveExactly(equations(lines), lines.length);
  if (!withoutSum.isConsistent || withoutSum.open.length > 0) return 'No amounts fit all these lines at once.';
  const sum = withoutSum.numerators.reduce((a, n) => a + n, 0n);
  return `The lines come to ${percentText(sum, withoutSum.denominator)}, not 100 %, and no line fills up (qs).`;
}

/** A fraction as percent with up to four decimals, for messages only. */
function percentText(numerator: bigint, denominator: bigint): string {
  return `${Number((numerator * 1_000_000n) / denominator) / 10_000} %`;
}

function ascending(lines: readonly FormulaLine[]): number[] {
  return lines.map((line) => line.position).toSorted((a, b) => a - b);
}

function fault(code: FormulaErrorCode, positions: number[], message: string): FormulaError {
  return { code, positions, message };
}
