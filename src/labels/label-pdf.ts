import { closePdf, openPdf, points } from '../platform/pdf.js';
import type { Pdf } from '../platform/pdf.js';
import { conflict } from '../platform/problem.js';
import type { BarCode } from './bar-codes.js';
import { code128, qrCode } from './bar-codes.js';
import type { LabelSheet } from './label-sheets.js';
import type { LabelView } from './labels.schema.js';

const MARGIN_UM = 2_000;
/** Nearer to the edge of a sheet many printers print nothing: common practice, no source. */
const EDGE_UM = 4_500;
const QR_UM_MOST = 22_000;
const QR_UM_LEAST = 12_000;
const BARS_HEIGHT_UM = 8_000;
/** Narrower bars are hard to print and to read. */
const MODULE_UM_LEAST = 190;
/** Smaller letters than these nobody reads. */
const TEXT_SIZES = [8, 7.5, 7, 6.5, 6, 5.5, 5, 4.5];

/**
 * Labels on a sheet, row by row, the first `skip` places of the first page left empty. Throws a 409 problem
 * `label-too-small` where what it says does not fit in letters that can be read: nothing is ever left out.
 */
export async function labelPdf(
  label: LabelView,
  sheet: LabelSheet,
  how: { copies: number; skip: number; bars: boolean },
): Promise<Buffer> {
  const perPage = sheet.columns * sheet.rows;
  const pdf = await openPdf(sheet.pageWidthUm, sheet.pageHeightUm, `Labels ${label.lot}`);
  const drawn = await drawing(pdf, label, sheet, how.bars);
  for (let n = 0; n < how.copies; n++) {
    const place = how.skip + n;
    const at = place % perPage;
    if (n > 0 && at === 0) pdf.addPage();
    drawn(
      points(sheet.leftUm + (at % sheet.columns) * sheet.pitchXUm),
      points(sheet.topUm + Math.floor(at / sheet.columns) * sheet.pitchYUm),
    );
  }
  return closePdf(pdf);
}

/** Text in the order of a label; bold is what must be found first. */
function paragraphsOf(label: LabelView): { text: string; isBold: boolean }[] {
  const said: [string, boolean][] = [
    [label.name, true],
    [label.net ?? '', true],
    [`Lot ${label.lot}`, true],
    ...label.dates.map((text): [string, boolean] => [text, false]),
    [label.ingredients.length > 0 ? `Ingredients: ${label.ingredients.map(({ name }) => name).join(', ')}` : '', false],
    [label.allergens.length > 0 ? `Contains: ${label.allergens.map(({ name }) => name).join(', ')}` : '', false],
    ...label.cautions.map((text): [string, boolean] => [text, false]),
    [label.maker, false],
  ];
  return said.filter(([text]) => text !== '').map(([text, isBold]) => ({ text, isBold }));
}

/** How far inside each label its text begins: alike on all of a sheet, and where printers reach on its outermost. */
function marginsOf(sheet: LabelSheet): { x: number; y: number } {
  // one label to a page is a label printer's, which prints to the edge
  if (sheet.columns * sheet.rows === 1) return { x: MARGIN_UM, y: MARGIN_UM };
  const right = sheet.pageWidthUm - sheet.leftUm - (sheet.columns - 1) * sheet.pitchXUm - sheet.widthUm;
  const foot = sheet.pageHeightUm - sheet.topUm - (sheet.rows - 1) * sheet.pitchYUm - sheet.heightUm;
  return {
    x: Math.max(MARGIN_UM, EDGE_UM - Math.min(sheet.leftUm, right)),
    y: Math.max(MARGIN_UM, EDGE_UM - Math.min(sheet.topUm, foot)),
  };
}

/** Measures once how the label fits, and answers how to draw it at a place. */
async function drawing(pdf: Pdf, label: LabelView, sheet: LabelSheet, bars: boolean) {
  const { widthUm, heightUm } = sheet;
  const margin = marginsOf(sheet);
  const qrUm = Math.min(QR_UM_MOST, heightUm - 2 * margin.y, Math.floor(widthUm / 3));
  const strip = bars ? await code128(label.lot) : null;
  const stripUm = strip ? BARS_HEIGHT_UM : 0;
  const inner = { width: widthUm - 2 * margin.x, height: heightUm - 2 * margin.y };
  if (qrUm < QR_UM_LEAST || (strip && inner.width / strip.width < MODULE_UM_LEAST)) throw tooSmall(widthUm, heightUm);
  const textWidth = points(inner.width - qrUm - 1_000);
  const textHeight = points(inner.height - stripUm);
  const paragraphs = paragraphsOf(label);
  const heightAt = (size: number): number =>
    paragraphs.reduce((sum, { text, isBold }) => {
      return sum + pdf.font(isBold ? 'bold' : 'plain', size).heightOfString(text, { width: textWidth });
    }, 0);
  const widest = (size: number): number =>
    Math.max(
      ...paragraphs.flatMap(({ text }) => text.split(' ')).map((word) => pdf.font('bold', size).widthOfString(word)),
    );
  const size = TEXT_SIZES.find((one) => heightAt(one) <= textHeight && widest(one) <= textWidth);
  if (size === undefined) throw tooSmall(widthUm, heightUm);
  const qr = await qrCode(label.address);
  return (x: number, y: number): void => {
    let at = y + points(margin.y);
    const left = x + points(margin.x);
    for (const { text, isBold } of paragraphs) {
      pdf.font(isBold ? 'bold' : 'plain', size).text(text, left, at, { width: textWidth });
      at = pdf.y;
    }
    drawCode(pdf, qr, x + points(widthUm - margin.x - qrUm), y + points(margin.y), {
      width: points(qrUm),
      height: points(qrUm),
    });
    if (!strip) return;
    const moduleUm = Math.min(330, inner.width / strip.width);
    drawCode(pdf, strip, left, y + points(heightUm - margin.y - stripUm + 800), {
      width: points(moduleUm * strip.width),
      height: points(stripUm - 800),
    });
  };
}

function tooSmall(widthUm: number, heightUm: number): Error {
  return conflict(
    'label-too-small',
    `What the label says does not fit on ${widthUm / 1000} x ${heightUm / 1000} mm in letters that can be read. Take a larger one.`,
  );
}

/** A bar code into a box; its quiet zone is part of it. */
export function drawCode(pdf: Pdf, code: BarCode, x: number, y: number, box: { width: number; height: number }): void {
  pdf
    .save()
    .translate(x, y)
    .scale(box.width / code.width, box.height / code.height)
    .translate(code.left, code.top)
    .scale(1 / code.unit);
  for (const { d, stroke } of code.paths) {
    pdf.path(d);
    if (stroke === null) pdf.fill('#000', 'even-odd');
    else pdf.lineWidth(stroke).stroke('#000');
  }
  pdf.restore().fillColor('#000');
}
