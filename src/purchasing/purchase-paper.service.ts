import { stringify } from 'csv-stringify/sync';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { type Workshop } from '../catalog/workshop.entity.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { printQuantity } from '../kernel/measure/quantity.js';
import type { Letter } from '../messages/outbox.service.js';
import { Database } from '../platform/database.js';
import { closePdf, openPdf, type Pdf, points } from '../platform/pdf.js';
import { orderByCode } from './purchase-order-rows.js';
import type { PurchaseOrderView } from './purchase-orders.schema.js';
import type { Supplier } from './purchasing.entity.js';
import { supplierNamed } from './suppliers.service.js';

interface Paper {
  order: PurchaseOrderView;
  supplier: Supplier;
  workshop: Omit<Workshop, 'id'>;
}

/** A purchase order as it is sent: to read, and as a table. */
@Injectable()
export class PurchasePaperService {
  constructor(private readonly database: Database) {}

  /** Throws a 404 problem. */
  async pdf(code: string): Promise<Buffer> {
    return paperOf(await this.database.read((tx) => readPaper(tx, code)));
  }

  /** Header row, then a row a line; safe to open in a spreadsheet. Throws a 404 problem. */
  async csv(code: string): Promise<Buffer> {
    return tableOf(await this.database.read((tx) => readPaper(tx, code)));
  }

  /** What an email to the supplier says and brings along, but for whom it goes to. Throws a 404 problem. */
  async letter(tx: EntityManager, code: string): Promise<Omit<Letter, 'to'>> {
    const paper = await readPaper(tx, code);
    return {
      subject: `Order ${code} of ${paper.workshop.name}`,
      text: letterText(paper),
      files: [
        { name: `${code}.pdf`, type: 'application/pdf', content: await paperOf(paper) },
        { name: `${code}.csv`, type: 'text/csv; charset=utf-8; header=present', content: tableOf(paper) },
      ],
    };
  }
}

async function readPaper(tx: EntityManager, code: string): Promise<Paper> {
  const order = await orderByCode(tx, code);
  return { order, supplier: await supplierNamed(tx, order.supplier), workshop: await workshopOf(tx) };
}

function tableOf({ order, workshop }: Paper): Buffer {
  const rows = order.lines.map((line) => ({
    order: order.code,
    line: line.line,
    pack: line.pack,
    item: line.name,
    'in a pack': printQuantity(line.size, line.measure),
    packs: line.packs,
    'price of a pack': decimals(line.priceE4),
    price: decimals(line.packs * line.priceE4),
    currency: workshop.currency,
  }));
  return Buffer.from(stringify(rows, { header: true, bom: true, record_delimiter: '\r\n', escape_formulas: true }));
}

/** To the cent, and further only where there are parts of one. */
const decimals = (valueE4: number): string => (valueE4 / 10_000).toFixed(valueE4 % 100 === 0 ? 2 : 4);

/** For whoever reads the email and opens no files. */
function letterText({ order, supplier, workshop }: Paper): string {
  const money = moneyOf(workshop.currency);
  const parts = [
    `To ${supplier.name}`,
    `Our order ${order.code}, also attached to read (PDF) and as a table (CSV):`,
    order.lines
      .map((line) => `  ${line.packs} x ${line.pack}, ${line.name}, ${inEach(line)} each, at ${money(line.priceE4)}`)
      .join('\n'),
    `Goods together ${money(order.goodsE4)}.`,
    supplier.account === '' ? '' : `Our number with you: ${supplier.account}`,
    order.note,
    'Please confirm prices and the day it comes.',
    workshop.name,
  ];
  return parts.filter((part) => part !== '').join('\n\n');
}

const moneyOf = (currency: string) => {
  const format = new Intl.NumberFormat('en', { style: 'currency', currency });
  return (valueE4: number): string => format.format(valueE4 / 10_000);
};

const inEach = ({ measure, size }: PurchaseOrderView['lines'][number]): string =>
  measure === 'counted' ? `${size} pieces` : printQuantity(size, measure);

const MARGIN = 18_000;
const A4 = [210_000, 297_000] as const;
const LETTER = [215_900, 279_400] as const;

async function paperOf({ order, supplier, workshop }: Paper): Promise<Buffer> {
  const [width, height] = workshop.units === 'us' ? LETTER : A4;
  const pdf = await openPdf(width, height, `Purchase order ${order.code}`);
  const [left, right, bottom] = [points(MARGIN), points(width - MARGIN), points(height - MARGIN)];
  const money = moneyOf(workshop.currency);
  pdf.font('bold', 16).text(workshop.name, left, points(MARGIN), { width: right - left });
  pdf.font('plain', 12).text(`Purchase order ${order.code}`, left, pdf.y + 4);
  const head = [
    `To ${supplier.name}`,
    ...supplier.address.split('\n'),
    supplier.account === '' ? '' : `Our number with you: ${supplier.account}`,
    order.sentOn === null ? 'Draft, not sent' : `Ordered on ${order.sentOn}`,
  ];
  for (const text of head.filter((one) => one.trim() !== ''))
    pdf.font('plain', 10).text(text, left, pdf.y + 2, { width: right - left });
  pdf.y += 12;
  const columns = columnsOf(left, right);
  const header = () => rowOf(pdf, columns, ['Pack', 'What', 'Packs', 'In each', 'Price each', 'Price'], 'bold');
  header();
  for (const line of order.lines) {
    if (pdf.y + 30 > bottom) {
      pdf.addPage();
      pdf.y = points(MARGIN);
      header();
    }
    const cells = [
      line.pack,
      line.name,
      String(line.packs),
      inEach(line),
      money(line.priceE4),
      money(line.packs * line.priceE4),
    ];
    rowOf(pdf, columns, cells, 'plain');
  }
  rowOf(pdf, columns, ['', 'Goods together', '', '', '', money(order.goodsE4)], 'bold');
  if (order.note !== '') pdf.font('plain', 10).text(order.note, left, pdf.y + 12, { width: right - left });
  return closePdf(pdf);
}

interface Column {
  x: number;
  width: number;
  align: 'left' | 'right';
}

/** Share of the width, and side, of each column. */
const COLUMNS = [
  [0.2, 'left'],
  [0.3, 'left'],
  [0.09, 'right'],
  [0.13, 'right'],
  [0.14, 'right'],
  [0.14, 'right'],
] as const;

function columnsOf(left: number, right: number): Column[] {
  let x = left;
  return COLUMNS.map(([share, align]) => {
    const width = share * (right - left);
    const column = { x, width: width - 6, align };
    x += width;
    return column;
  });
}

/** One line of the table; a long name goes on below, and the next row begins under all of it. */
function rowOf(pdf: Pdf, columns: readonly Column[], cells: readonly string[], font: 'plain' | 'bold'): void {
  const y = pdf.y + 4;
  let below = y;
  for (const [index, { x, width, align }] of columns.entries()) {
    pdf.font(font, 9).text(cells[index] ?? '', x, y, { width, align });
    below = Math.max(below, pdf.y);
  }
  const last = columns.at(-1)!;
  pdf
    .moveTo(columns[0]!.x, below + 2)
    .lineTo(last.x + last.width, below + 2)
    .lineWidth(0.3)
    .stroke('#999');
  pdf.y = below + 2;
}
