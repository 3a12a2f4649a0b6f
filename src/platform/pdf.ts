import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';

export type Pdf = PDFKit.PDFDocument;

/** A point of typography is 1/72 of an inch of 25.4 mm. */
const POINTS_PER_UM = 72 / 25_400;

/** Thousandths of a millimetre in points. */
export const points = (um: number): number => um * POINTS_PER_UM;

const FONTS = dirname(createRequire(import.meta.url).resolve('dejavu-fonts-ttf/ttf/DejaVuSansCondensed.ttf'));

/**
 * A PDF of pages of this size without margins, with letters for most languages in it: fonts `plain` and `bold`. What draws
 * it is loaded by the first, because it is a tenth of a start.
 */
export async function openPdf(widthUm: number, heightUm: number, title: string): Promise<Pdf> {
  const { default: PdfKit } = await import('pdfkit');
  const pdf = new PdfKit({
    size: [points(widthUm), points(heightUm)],
    margin: 0,
    info: { Title: title, Creator: 'Lotwright', Producer: 'Lotwright' },
  });
  pdf.registerFont('plain', join(FONTS, 'DejaVuSansCondensed.ttf'));
  pdf.registerFont('bold', join(FONTS, 'DejaVuSansCondensed-Bold.ttf'));
  return pdf.font('plain');
}

/** Ends the document; answers its bytes. */
export function closePdf(pdf: Pdf): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const chunks: Buffer[] = [];
    pdf.on('data', (chunk: Buffer) => chunks.push(chunk));
    pdf.on('end', () => resolve(Buffer.concat(chunks)));
    pdf.on('error', reject);
    pdf.end();
  });
}

/** What a page of a PDF answers with; its name is made of what is safe in a header. */
export const pdfHeaders = (name: string): Record<string, string> => ({
  'content-type': 'application/pdf',
  'content-disposition': `inline; filename="${name.replace(/[^A-Za-z0-9._-]+/g, '-')}.pdf"`,
  'cache-control': 'private, no-store',
});
