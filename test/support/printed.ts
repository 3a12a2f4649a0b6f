import { createRequire } from 'node:module';
import { createCanvas, loadImage } from '@napi-rs/canvas';
import {
  BarcodeFormat,
  BinaryBitmap,
  DecodeHintType,
  HybridBinarizer,
  MultiFormatReader,
  RGBLuminanceSource,
} from '@zxing/library';
import type jsQR from 'jsqr';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import type { PDFPageProxy } from 'pdfjs-dist/types/src/display/api.js';

/** Pixels as a scanner sees them. */
interface Picture {
  width: number;
  height: number;
  data: Uint8ClampedArray;
}

// the package says it is an ES module's default and is none
const readQr = createRequire(import.meta.url)('jsqr') as typeof jsQR.default;

/** What a bar code in the picture says, as a decoder of its own reads it; undefined where it finds none. */
export function decode(picture: Picture, format: 'qr' | 'code128'): string | undefined {
  if (format === 'qr') return readQr(picture.data, picture.width, picture.height)?.data;
  const grey = new Uint8ClampedArray(picture.width * picture.height);
  for (let n = 0; n < grey.length; n++)
    grey[n] = (picture.data[4 * n]! + 2 * picture.data[4 * n + 1]! + picture.data[4 * n + 2]!) / 4;
  const source = new RGBLuminanceSource(grey, picture.width, picture.height);
  const hints = new Map<DecodeHintType, unknown>([
    [DecodeHintType.POSSIBLE_FORMATS, [BarcodeFormat.CODE_128]],
    [DecodeHintType.TRY_HARDER, true],
  ]);
  try {
    return new MultiFormatReader().decode(new BinaryBitmap(new HybridBinarizer(source)), hints).getText();
  } catch {
    return undefined;
  }
}

/** An SVG drawn `width` pixels wide. */
export async function drawSvg(svg: string, width: number): Promise<Picture> {
  const [, across = 1, along = 1] = (/viewBox="0 0 ([\d.]+) ([\d.]+)"/.exec(svg) ?? []).map(Number);
  const height = Math.round((width * along) / across);
  const sized = svg.replace('<svg ', `<svg width="${width}" height="${height}" `);
  const canvas = createCanvas(width, height);
  canvas.getContext('2d').drawImage(await loadImage(Buffer.from(sized)), 0, 0, width, height);
  return canvas.getContext('2d').getImageData(0, 0, width, height);
}

export interface PdfPage {
  /** In millimetres. */
  width: number;
  height: number;
  /** Pieces of text in reading order, and where each begins in millimetres from the top left. */
  texts: { text: string; x: number; y: number; size: number }[];
  /** All of it, in one line. */
  text: string;
  /** The page, or a part of it in millimetres, as a picture. */
  draw(dotsPerMm: number, part?: { x: number; y: number; width: number; height: number }): Promise<Picture>;
}

const MM_PER_POINT = 25.4 / 72;

/** The pages of a PDF as a reader of its own sees them. */
export async function readPdf(bytes: Buffer): Promise<PdfPage[]> {
  const pdf = await getDocument({ data: new Uint8Array(bytes), useSystemFonts: false, verbosity: 0 }).promise;
  const pages: PdfPage[] = [];
  for (let n = 1; n <= pdf.numPages; n++) {
    const page = await pdf.getPage(n);
    const [, , width = 0, height = 0] = page.view;
    const { items } = await page.getTextContent();
    const texts = items.flatMap((item) =>
      'str' in item && item.str.trim() !== ''
        ? [
            {
              text: item.str,
              x: (item.transform as number[])[4]! * MM_PER_POINT,
              y: (height - (item.transform as number[])[5]!) * MM_PER_POINT,
              size: (item.transform as number[])[0]!,
            },
          ]
        : [],
    );
    pages.push({
      width: width * MM_PER_POINT,
      height: height * MM_PER_POINT,
      texts,
      text: texts
        .map(({ text }) => text)
        .join(' ')
        .replace(/\s+/g, ' '),
      draw: (dotsPerMm, part) => draw(page, dotsPerMm, part),
    });
  }
  return pages;
}

async function draw(
  page: PDFPageProxy,
  dotsPerMm: number,
  part?: { x: number; y: number; width: number; height: number },
): Promise<Picture> {
  const viewport = page.getViewport({ scale: dotsPerMm * MM_PER_POINT });
  const canvas = createCanvas(Math.ceil(viewport.width), Math.ceil(viewport.height));
  const context = canvas.getContext('2d');
  await page.render({ canvasContext: context, viewport }).promise;
  const box = part ?? { x: 0, y: 0, width: canvas.width / dotsPerMm, height: canvas.height / dotsPerMm };
  const at = (mm: number) => Math.round(mm * dotsPerMm);
  return context.getImageData(at(box.x), at(box.y), at(box.width), at(box.height));
}
