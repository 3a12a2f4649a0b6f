import { Injectable } from '@nestjs/common';
import { workshopOf } from '../catalog/workshop.service.js';
import { Database } from '../platform/database.js';
import type { Pdf } from '../platform/pdf.js';
import { closePdf, openPdf, points } from '../platform/pdf.js';
import { notFound } from '../platform/problem.js';
import { FLAMMABLE_NOTICE } from '../labels/label-text.js';
import { flammable } from './flammable.js';

interface SlipLine {
  name: string;
  item: string;
  lot: string;
  quantity: number;
  expiresOn: string | null;
  isFlammable: boolean;
  /** Of a set: what is in it, and of which lots. */
  parts: { name: string; lot: string }[];
}

interface Slip {
  id: number;
  workshop: string;
  channel: string;
  number: string;
  customer: string | null;
  shippedOn: string;
  /** What of the order has not gone yet. */
  open: number;
  isLetter: boolean;
  lines: SlipLine[];
}

/** The paper that lies in a parcel. */
@Injectable()
export class SlipService {
  constructor(private readonly database: Database) {}

  /** What was sent, with its lots, without prices. Throws a 404 problem. */
  async pdf(id: number): Promise<Buffer> {
    const slip = await this.database.read(async (tx): Promise<Slip> => {
      const workshop = await workshopOf(tx);
      const [head] = await tx.query<Omit<Slip, 'workshop' | 'isLetter' | 'lines'>[]>(
        `select s.id, o.channel, o.number, c.name as customer, s.shipped_on as "shippedOn",
           (select coalesce(sum(quantity - shipped - cancelled), 0)::bigint from order_line where order_id = o.id) as open
         from shipment s join customer_order o on o.id = s.order_id left join customer c on c.id = o.customer_id
         where s.id = $1`,
        [id],
      );
      if (!head) throw notFound('shipment', id);
      const lines = await tx.query<SlipLine[]>(LINES, [id]);
      return { ...head, workshop: workshop.name, isLetter: workshop.units === 'us', lines };
    });
    return slipPdf(slip);
  }
}

/* Of a set what went into the batch that made it; corrections are taken off. */
const LINES = `
  select i.name, i.code as item, l.code as lot, -sum(m.quantity)::bigint as quantity, l.expires_on as "expiresOn",
    ${flammable('i')} or exists (select from standing_movement c join lot p on p.id = c.lot_id join item pi on pi.id = p.item_id
      where i.kind = 'set' and c.batch_id = l.batch_id and c.cause = 'consumption' and pi.flammable) as "isFlammable",
    (select coalesce(json_agg(json_build_object('name', used.name, 'lot', used.code) order by used.name, used.code), '[]')
     from (select pi.name, p.code from movement c join lot p on p.id = c.lot_id join item pi on pi.id = p.item_id
       where i.kind = 'set' and c.batch_id = l.batch_id and pi.kind in ('product', 'set')
       group by pi.name, p.code having sum(c.quantity) < 0) used) as parts
  from movement m join lot l on l.id = m.lot_id join item i on i.id = l.item_id
  where m.shipment_id = $1 group by i.id, l.id having sum(m.quantity) < 0 order by i.name, l.code`;

const MARGIN = 18_000;
const A4 = [210_000, 297_000] as const;
const LETTER = [215_900, 279_400] as const;

async function slipPdf(slip: Slip): Promise<Buffer> {
  const [width, height] = slip.isLetter ? LETTER : A4;
  const pdf = await openPdf(width, height, `Packing slip ${slip.number}`);
  const [left, right, bottom] = [points(MARGIN), points(width - MARGIN), points(height - MARGIN)];
  const columns = { left, lot: left + (right - left) * 0.52, date: left + (right - left) * 0.72, right };
  pdf.font('bold', 16).text(slip.workshop, left, points(MARGIN), { width: right - left });
  pdf.font('plain', 11).text('Packing slip', left, pdf.y + 4);
  const head = [
    `Order ${slip.number} (${slip.channel})`,
    slip.customer === null ? '' : `For ${slip.customer}`,
    `Sent on ${slip.shippedOn}`,
  ];
  for (const text of head.filter((one) => one !== '')) pdf.font('plain', 10).text(text, left, pdf.y + 2);
  pdf.y += 12;
  rowOf(pdf, columns, { what: 'What', lot: 'Lot', date: 'Good until', quantity: 'Pieces' }, 'bold');
  for (const line of slip.lines) {
    const heightOfRow = 20 + line.parts.length * 12;
    if (pdf.y + heightOfRow > bottom) {
      pdf.addPage();
      pdf.y = points(MARGIN);
      rowOf(pdf, columns, { what: 'What', lot: 'Lot', date: 'Good until', quantity: 'Pieces' }, 'bold');
    }
    const { name, lot, expiresOn, quantity } = line;
    rowOf(pdf, columns, { what: name, lot, date: expiresOn ?? '', quantity: String(quantity) }, 'plain');
    for (const part of line.parts)
      rowOf(pdf, { ...columns, left: left + 12 }, { what: part.name, lot: part.lot, date: '', quantity: '' }, 'plain');
  }
  const notes = [
    slip.open > 0 ? `${slip.open} ${slip.open === 1 ? 'piece' : 'pieces'} of this order still to come.` : '',
    slip.lines.some(({ isFlammable }) => isFlammable) ? FLAMMABLE_NOTICE : '',
  ].filter((note) => note !== '');
  if (pdf.y + notes.length * 30 > bottom) {
    pdf.addPage();
    pdf.y = points(MARGIN);
  }
  for (const note of notes) pdf.font('bold', 9).text(note, left, pdf.y + 8, { width: right - left });
  return closePdf(pdf);
}

interface Columns {
  left: number;
  lot: number;
  date: number;
  right: number;
}

/** One line of the table; a long name goes on below, and the next row begins under all of it. */
function rowOf(
  pdf: Pdf,
  { left, lot, date, right }: Columns,
  row: { what: string; lot: string; date: string; quantity: string },
  font: 'plain' | 'bold',
): void {
  const y = pdf.y + 4;
  // in the order in which it is read aloud and copied
  pdf.font(font, 9).text(row.what, left, y, { width: lot - left - 6 });
  const afterName = pdf.y;
  pdf.text(row.lot, lot, y, { width: date - lot - 6 });
  const below = Math.max(afterName, pdf.y);
  pdf.text(row.date, date, y, { width: right - date - 50 });
  pdf.text(row.quantity, date, y, { width: right - date, align: 'right' });
  pdf.y = below;
  pdf
    .moveTo(left, pdf.y + 2)
    .lineTo(right, pdf.y + 2)
    .lineWidth(0.3)
    .stroke('#999');
  pdf.y += 2;
}
