import type { Page } from 'playwright-core';

/** A text or a shape of a drawing as the browser renders it: `text` of a size in px on `ground`, or what its edge is drawn in. */
export interface Drawn {
  what: string;
  kind: 'text' | 'edge';
  colour: string;
  ground: string;
  px: number;
}

/**
 * Every text and shape of a drawing. A text stands on the last filled shape drawn before it that lies beneath its middle, else
 * on the drawing's own ground; a shape's edge is its line, or its fill where it has none, and stands on the ground.
 */
export const drawnIn = (page: Page, svg: string): Promise<Drawn[]> =>
  page.evaluate<Drawn[]>(`(() => {
    const svg = document.querySelector(${JSON.stringify(svg)});
    const ground = getComputedStyle(svg).backgroundColor;
    const parts = [...svg.querySelectorAll('text, rect, path, line, circle')].filter((one) => !one.closest('defs'));
    const fillOf = (one) => getComputedStyle(one).fill;
    const isLine = (one) => one.localName === 'line' || fillOf(one) === 'none';
    const beneath = (text) => {
      const box = text.getBoundingClientRect();
      const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
      const under = parts.slice(0, parts.indexOf(text)).filter((one) => {
        const own = one.getBoundingClientRect();
        return one.localName !== 'text' && !isLine(one) && own.left <= x && x <= own.right && own.top <= y && y <= own.bottom;
      });
      return under.length > 0 ? fillOf(under.at(-1)) : ground;
    };
    const named = (one) => one.localName + '.' + one.getAttribute('class') + ' ' + one.textContent.trim();
    return parts.map((one) => {
      const style = getComputedStyle(one);
      if (one.localName === 'text')
        return { what: named(one), kind: 'text', colour: style.fill, ground: beneath(one), px: parseFloat(style.fontSize) * one.getScreenCTM().a };
      return { what: named(one), kind: 'edge', colour: style.stroke === 'none' ? style.fill : style.stroke, ground, px: 0 };
    });
  })()`);

/** WCAG 2.2, relative luminance of a colour in sRGB. */
function luminance(colour: string): number {
  const parts = /^rgb\((\d+), (\d+), (\d+)\)$/.exec(colour);
  if (!parts) throw new Error(`${colour} is no plain colour`);
  const [red, green, blue] = parts.slice(1).map((eight) => {
    const part = Number(eight) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * red! + 0.7152 * green! + 0.0722 * blue!;
}

/** WCAG 2.2, contrast ratio: 1 to 21. */
export function contrast(one: string, other: string): number {
  const [dark, light] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (light! + 0.05) / (dark! + 0.05);
}
