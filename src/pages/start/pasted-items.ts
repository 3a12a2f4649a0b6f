import { FAMILIES, ITEM_KINDS } from '../../catalog/item.entity.js';
import { openCsv } from '../../orders/csv-reader.js';

/** A row of a list of items, as it was pasted. */
export interface PastedItem {
  /** The line it begins in, from 1. */
  line: number;
  /** What an item's schema reads; a cell that means nothing known here stays as it was written, to be refused there. */
  body: Record<string, unknown>;
}

const COLUMNS = ['code', 'name', 'measure', 'density', 'family', 'shelfLifeDays', 'kind'] as const;
type Column = (typeof COLUMNS)[number];

/** What the headers of such lists say, without blanks and signs. Common practice, no source. */
const HEADERS: Record<Column, readonly string[]> = {
  code: ['code', 'itemcode', 'sku', 'itemno', 'itemnumber', 'articleno', 'no'],
  name: ['name', 'item', 'itemname', 'description', 'material', 'ingredient', 'product', 'title'],
  measure: ['measure', 'unit', 'units', 'uom', 'measuredin', 'keptby', 'by'],
  density: ['density', 'densitygml', 'gml', 'gperml', 'specificgravity', 'sg'],
  family: ['family', 'group', 'category', 'type'],
  shelfLifeDays: ['shelflife', 'shelflifedays', 'keepsdays', 'keeps', 'days'],
  kind: ['kind'],
};

const WEIGHED = [
  '',
  'weighed',
  'weight',
  'byweight',
  'mg',
  'g',
  'gram',
  'grams',
  'kg',
  'oz',
  'lb',
  'lbs',
  'ml',
  'l',
  'floz',
];
const COUNTED = ['counted', 'count', 'bycount', 'each', 'ea', 'pc', 'pcs', 'piece', 'pieces', 'unit', 'units', 'dozen'];

/**
 * Rows as they come from a spreadsheet: cells parted by tabs (or commas, semicolons), in the order code, name, weighed or
 * counted, density, family, days it keeps, kind; or in any order under a header. Throws the problems of `openCsv`.
 */
export async function readPastedItems(text: string): Promise<PastedItem[]> {
  let columns: readonly (Column | undefined)[] = COLUMNS;
  const rows: PastedItem[] = [];
  let isFirst = true;
  for await (const { line, cells } of openCsv(() => [text]).records) {
    const named = isFirst ? columnsOf(cells) : undefined;
    isFirst = false;
    if (named) columns = named;
    else rows.push({ line, body: bodyOf(cells, columns) });
  }
  return rows;
}

const plain = (text: string): string => text.toLowerCase().replace(/[^a-z]/g, '');

/** The columns a header names; undefined where the first row is no header. */
function columnsOf(cells: readonly string[]): (Column | undefined)[] | undefined {
  const columns = cells.map((cell) => COLUMNS.find((column) => HEADERS[column].includes(plain(cell))));
  return columns.includes('code') && columns.includes('name') ? columns : undefined;
}

function bodyOf(cells: readonly string[], columns: readonly (Column | undefined)[]): Record<string, unknown> {
  const cell = (column: Column): string => cells[columns.indexOf(column)]?.trim() ?? '';
  const kind = plain(cell('kind'));
  const family = plain(cell('family'));
  const days = cell('shelfLifeDays');
  const density = cell('density').replace(',', '.');
  return {
    code: cell('code').toUpperCase().replace(/\s+/g, '-'),
    name: cell('name'),
    kind:
      kind === '' ? 'material' : (ITEM_KINDS.find((known) => kind === known || kind === `${known}s`) ?? cell('kind')),
    measure: measureOf(cell('measure'), kind),
    ...(density !== '' && { density: /^\d+(\.\d+)?$/.test(density) ? `${density} g/ml` : density }),
    ...(family !== '' && {
      family: FAMILIES.find((known) => family === known || family === `${known}s`) ?? cell('family'),
    }),
    ...(days !== '' && { shelfLifeDays: /^\d{1,5}$/.test(days) ? Number(days) : days }),
  };
}

function measureOf(text: string, kind: string): string {
  const word = plain(text);
  // what is sold is counted, whatever a list of materials takes for granted
  if (word === '' && (kind.startsWith('product') || kind.startsWith('set'))) return 'counted';
  return WEIGHED.includes(word) ? 'weighed' : COUNTED.includes(word) ? 'counted' : text;
}
