import type { ImportReport } from './import.schema.js';

const SHOWN_MAX = 20;

/** The report of an import for a terminal: what was done, then what needs a look, at most 20 lines of each. */
export function printImportReport(report: ImportReport): string {
  const { rows, orders, units } = report;
  const sections = [
    [headline(report), fileLine(report)],
    [
      ...counted(rows.new, 'new', `${orders.new} new orders, ${units.planned} units to plan`),
      ...counted(rows.known, 'known', 'already here, unchanged'),
      ...counted(rows.amended, 'amended', 'changed since'),
      ...counted(rows.cancelled, 'cancelled', 'not planned'),
      ...counted(rows.fulfilled, 'fulfilled', 'sent by the shop already'),
      ...counted(rows.bad, 'bad', report.written ? 'left out' : 'see below'),
      ...(orders.waiting > 0 ? [`  ${orders.waiting} orders wait for payment and are not planned.`] : []),
    ],
    list(
      'Unknown item codes (map them to an item, or create it):',
      report.unknownCodeCount,
      report.unknownCodes.map(unknownLine),
    ),
    list('Amendments:', rows.amended, report.amendments.map(amendmentLine)),
    list('Cancellations:', rows.cancelled, report.cancellations.map(cancellationLine)),
    list('Problems:', problemCount(report), report.problems.map(problemLine)),
  ];
  return `${sections
    .filter((lines) => lines.length > 0)
    .map((lines) => lines.join('\n'))
    .join('\n\n')}\n`;
}

function headline({ rows, written, preview }: ImportReport): string {
  if (written) return `Imported ${rows.read - rows.bad} of ${rows.read} rows.`;
  return preview
    ? `Preview of ${rows.read} rows: nothing was written.`
    : `Refused: ${rows.bad} of ${rows.read} rows are bad, so nothing was written.`;
}

function fileLine({ file }: ImportReport): string {
  const delimiter = file.delimiter === '\t' ? 'tabs' : `"${file.delimiter}"`;
  const columns = Object.entries(file.columns).map(([role, header]) => `${role} = ${header}`);
  return `Read as ${file.encoding}, cells parted by ${delimiter}; ${columns.join(', ')}.`;
}

function counted(count: number, word: string, meaning: string): string[] {
  return count > 0 ? [`  ${String(count).padStart(7)} ${word.padEnd(9)}  ${meaning}`] : [];
}

function list(title: string, total: number, lines: readonly string[]): string[] {
  if (total === 0) return [];
  const shown = lines.slice(0, SHOWN_MAX);
  const rest = total - shown.length;
  return [title, ...shown.map((line) => `  ${line}`), ...(rest > 0 ? [`  and ${rest} more`] : [])];
}

function problemCount(report: ImportReport): number {
  return Object.values(report.problemCounts).reduce((sum, count) => sum + count, 0);
}

function unknownLine(row: ImportReport['unknownCodes'][number]): string {
  return `${row.code} (${row.channel}): ${row.lines} lines, ${row.units} units, first in line ${row.firstLine}`;
}

function amendmentLine(row: ImportReport['amendments'][number]): string {
  const changes = row.changes.map(({ field, from, to }) => `${field} ${from ?? 'none'} -> ${to ?? 'none'}`);
  return `line ${row.line}, order ${row.number}, ${row.code}: ${changes.join(', ')}`;
}

const REASONS: Record<ImportReport['cancellations'][number]['reason'], string> = {
  'negative-quantity': 'negative quantity',
  'cancelled-order': 'cancelled by the shop',
  'cancelled-here': 'the order is cancelled here',
};

function cancellationLine(row: ImportReport['cancellations'][number]): string {
  return `line ${row.line}, order ${row.number}, ${row.code}: ${REASONS[row.reason]}, ${row.cancelled} of ${row.asked} units were open`;
}

function problemLine(row: ImportReport['problems'][number]): string {
  return `line ${row.line}${row.column === '' ? '' : `, ${row.column}`}: ${row.detail}`;
}
