import type { RenderOptions } from 'bwip-js/node';

/** A bar code as outlines, in modules: the narrowest bar, or one dot of a QR code, is one wide. Its quiet zone is in it. */
export interface BarCode {
  width: number;
  height: number;
  /** Filled where `stroke` is null, else drawn as lines so many modules wide. */
  paths: { d: string; stroke: number | null }[];
  /** Where the outlines begin. */
  left: number;
  top: number;
  /** Of a module, in the outlines' own unit. */
  unit: number;
}

// what draws them knows a hundred kinds of code, and reading it is a tenth of a start: the first code loads it
const draw = async (options: RenderOptions): Promise<string> => (await import('bwip-js/node')).toSVG(options);

/** The printed address of a lot's page. ISO/IEC 18004 asks for four modules of quiet around it (from memory). */
export async function qrCode(text: string): Promise<BarCode> {
  // the library's types know no option of a single kind of code
  const options: RenderOptions & { eclevel: 'M' } = { bcid: 'qrcode', text, eclevel: 'M', scale: 1 };
  return read(await draw(options), { unit: 2, across: 4, along: 4 });
}

/** A lot code as bars, for a scanner that types. ISO/IEC 15417 asks for ten modules of quiet on either side (from memory). */
export const code128 = async (text: string): Promise<BarCode> =>
  read(await draw({ bcid: 'code128', text, scale: 1, height: 12 }), { unit: 1, across: 10, along: 0 });

/** The SVG as the library writes it: one path of dots, or a path for each width of bar. */
function read(svg: string, quiet: { unit: number; across: number; along: number }): BarCode {
  const [, width = 0, height = 0] = (/viewBox="0 0 (\d+) (\d+)"/.exec(svg) ?? []).map(Number);
  const paths = [...svg.matchAll(/<path ([^>]*)\/>/g)].map(([, attributes = '']) => ({
    d: / ?\bd="([^"]+)"/.exec(attributes)?.[1] ?? '',
    stroke: Number(/stroke-width="([\d.]+)"/.exec(attributes)?.[1] ?? 0) || null,
  }));
  if (!width || !height || paths.length === 0 || paths.some(({ d }) => d === ''))
    throw new Error('the bar code library wrote an SVG of another kind');
  return {
    width: width / quiet.unit + 2 * quiet.across,
    height: height / quiet.unit + 2 * quiet.along,
    paths,
    left: quiet.across,
    top: quiet.along,
    unit: quiet.unit,
  };
}

/** As a picture of its own, black on white, `title` for those who cannot see it. */
export function svgOf(code: BarCode, title: string): string {
  const drawn = code.paths
    .map(({ d, stroke }) =>
      stroke === null
        ? `<path d="${d}" fill="#000" fill-rule="evenodd"/>`
        : `<path d="${d}" fill="none" stroke="#000" stroke-width="${stroke}"/>`,
    )
    .join('');
  const escaped = title.replace(/[<&>"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 ${code.width} ${code.height}" ` +
    `shape-rendering="crispEdges"><title>${escaped}</title><rect width="100%" height="100%" fill="#fff"/>` +
    `<g transform="translate(${code.left} ${code.top}) scale(${1 / code.unit})">${drawn}</g></svg>`
  );
}
