import { dayOfMoment, longDay, momentText } from '../ui/dates.js';
import type { Pdf } from '../platform/pdf.js';
import { closePdf, openPdf, points } from '../platform/pdf.js';
import { printQuantity } from '../kernel/measure/quantity.js';
import type { LotAccount } from './account.schema.js';
import type { ComplaintView } from './complaint.schema.js';
import type { Recipient, RecallListView, RecallView } from './recall.schema.js';

const A4_UM = [210_000, 297_000] as const;
const MARGIN = points(20_000);
const WIDTH = points(A4_UM[0]) - 2 * MARGIN;
const FOOT = points(A4_UM[1]) - MARGIN;

/** One letter a recipient, each beginning on a page of its own; a page that says so where there is nobody to write to. */
export async function lettersPdf(
  recall: RecallView,
  recipients: readonly Recipient[],
  how: { template: string; workshop: string; today: string; names: ReadonlyMap<string, string> },
): Promise<Buffer> {
  const pdf = await openPdf(...A4_UM, `Letters ${recall.code}`);
  if (recipients.length === 0) paragraph(pdf, top(pdf), `Recall ${recall.code}: nobody is left to write to.`);
  for (const [at, recipient] of recipients.entries()) {
    if (at > 0) pdf.addPage();
    let y = top(pdf);
    y =
      paragraph(
        pdf,
        y,
        [recipient.customer ?? `Order ${recipient.order}`, recipient.contact].filter(Boolean).join('\n'),
      ) + 36;
    paragraph(pdf, y, letterOf(recall, recipient, how));
  }
  return closePdf(pdf);
}

/** The words of one letter; what the template names and nobody knows stays empty. */
export function letterOf(
  recall: RecallView,
  recipient: Recipient,
  {
    template,
    workshop,
    today,
    names,
  }: { template: string; workshop: string; today: string; names: ReadonlyMap<string, string> },
): string {
  const products = recipient.parcels
    .map(
      ({ item, lot, quantity, shippedOn }) =>
        `${quantity} × ${names.get(item) ?? item}, lot ${lot}, sent on ${shippedOn}`,
    )
    .join('\n');
  const words: Record<string, string> = {
    customer: recipient.customer ?? 'customer',
    products,
    why: recall.why,
    workshop,
    date: today,
    recall: recall.code,
    order: recipient.order,
  };
  return template.replaceAll(/\{([a-z]+)\}/g, (whole, name: string) => words[name] ?? whole);
}

/** Everything about one recall, for the file: timeline, scope, amounts, decisions. Who got something is named by order only. */
export async function reportPdf(of: {
  recall: RecallView;
  list: RecallListView;
  accounts: readonly LotAccount[];
  complaints: readonly ComplaintView[];
  workshop: string;
  today: string;
}): Promise<Buffer> {
  const { recall, list, accounts, complaints, workshop, today } = of;
  const pdf = await openPdf(...A4_UM, `Report ${recall.code}`);
  let y = top(pdf);
  y = heading(pdf, y, `${recall.isDrill ? 'Drill' : 'Recall'} ${recall.code}`, 16);
  y = paragraph(
    pdf,
    y,
    `${workshop}, printed ${today}. Opened ${recall.openedOn} by ${recall.openedBy}, ${recall.status}.`,
  );
  y = paragraph(pdf, y, `Suspected lot ${recall.lot}. ${recall.why}`);
  if (recall.result)
    y = paragraph(
      pdf,
      y,
      `Reconciled ${percent(recall.result.reconciledPpb)}; ${recall.result.lots} lots, ${recall.result.customers} customers, ` +
        `${recall.result.parcels} parcels${recall.isDrill ? `; traced in ${recall.result.traceMs} ms, all in ${recall.result.tookMs} ms` : ''}.`,
    );
  y = section(
    pdf,
    y,
    'What was reported',
    complaints.map(
      (one) =>
        `${one.code}, ${one.reportedOn}, ${one.harm === 'none' ? 'no harm' : `${one.harm}, ${one.harmed}`}: ${one.description}`,
    ),
  );
  y = section(
    pdf,
    y,
    'Timeline',
    recall.entries.map(({ at, by, kind, text }) => `${momentText(at)}, ${by}, ${kind}: ${text}`),
  );
  y = section(
    pdf,
    y,
    'Decisions',
    recall.entries
      .filter(({ kind }) => kind === 'decision' || kind === 'closed')
      .map(({ at, by, text }) => `${longDay(dayOfMoment(at))}, ${by}: ${text}`),
  );
  y = section(
    pdf,
    y,
    'Scope',
    recall.scope.map(
      ({ code, name, status, onHand, measure }) =>
        `${code}, ${name}: ${status}, ${printQuantity(onHand, measure)} on the shelf`,
    ),
  );
  y = section(pdf, y, 'Amounts', accounts.map(accountLine));
  section(
    pdf,
    y,
    `Recipients: ${recall.recipients}, written to ${recall.written}, answered ${recall.answered}`,
    list.recipients.map(
      (one) => `${one.order}: ${one.sent} sent, ${one.returned} back, ${one.isAnswered ? 'answered' : 'no answer'}`,
    ),
  );
  return closePdf(pdf);
}

function accountLine(lot: LotAccount): string {
  const amount = (quantity: number) => printQuantity(quantity, lot.measure);
  const parts: [string, number][] = [
    ['received', lot.received],
    ['made', lot.made],
    ['returned', lot.returned],
    ['split from another', lot.splitFrom],
    ['found at counts', lot.found],
    ['on the shelf', lot.onShelf],
    ['used in batches', lot.usedInBatches],
    ['used elsewhere', lot.usedElsewhere],
    ['shipped', lot.shipped],
    ['sampled', lot.sampled],
    ['scrapped', lot.scrapped],
    ['sent to the supplier', lot.sentToSupplier],
    ['split off', lot.splitOff],
    ['lost at counts', lot.lost],
    ['not confirmed', lot.unconfirmed],
  ];
  const said = parts.filter(([, quantity]) => quantity !== 0).map(([what, quantity]) => `${what} ${amount(quantity)}`);
  const unexplained =
    lot.unexplained === 0
      ? 'nothing unexplained'
      : `unexplained: ${amount(Math.abs(lot.unexplained))} too ${lot.unexplained > 0 ? 'much' : 'little'}`;
  return `${lot.lot}, ${lot.name}: ${said.join(', ')}; ${unexplained}; reconciled ${percent(lot.reconciledPpb)}`;
}

/** Rounded down to a hundredth, so that what is not all never reads as all. */
export const percent = (ppb: number): string => `${(Math.floor(ppb / 100_000) / 100).toFixed(2)} %`;

const top = (pdf: Pdf): number => {
  pdf.fontSize(10);
  return MARGIN;
};

function section(pdf: Pdf, y: number, title: string, lines: readonly string[]): number {
  let at = heading(pdf, y + 8, title, 12);
  for (const line of lines.length > 0 ? lines : ['none']) at = paragraph(pdf, at, line);
  return at;
}

function heading(pdf: Pdf, y: number, text: string, size: number): number {
  pdf.font('bold').fontSize(size);
  const at = fits(pdf, y, pdf.heightOfString(text, { width: WIDTH }) + 30);
  pdf.text(text, MARGIN, at, { width: WIDTH, lineBreak: true });
  const below = at + pdf.heightOfString(text, { width: WIDTH }) + 4;
  pdf.font('plain').fontSize(10);
  return below;
}

/** Text that goes on on the next page where it must; answers where the next begins. */
function paragraph(pdf: Pdf, y: number, text: string): number {
  let at = y;
  for (const line of text.split('\n')) {
    const height = pdf.heightOfString(line === '' ? ' ' : line, { width: WIDTH });
    at = fits(pdf, at, height);
    if (line !== '') pdf.text(line, MARGIN, at, { width: WIDTH });
    at += height + 2;
  }
  return at;
}

function fits(pdf: Pdf, y: number, height: number): number {
  if (y + height <= FOOT) return y;
  pdf.addPage();
  return MARGIN;
}
