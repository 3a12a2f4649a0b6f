import { describe, expect, it } from 'vitest';
import { code128, qrCode, svgOf } from '../../src/labels/bar-codes.js';
import { netText } from '../../src/labels/label-text.js';
import { decode, drawSvg } from '../support/printed.js';

describe('bar codes', () => {
  it.each([
    'http://127.0.0.1:4300/shelf/lots/26041-001',
    'https://lots.example.org/shelf/lots/AMBER%2F7%20%C3%A9',
    `https://lots.example.org/shelf/lots/${'X'.repeat(80)}`,
  ])('are read back by another library: QR %s', async (address) => {
    const code = await qrCode(address);
    expect(decode(await drawSvg(svgOf(code, 'Lot'), code.width * 8), 'qr')).toBe(address);
  });

  it.each(['26041-001', 'CED-OLD', 'a lot & <its> "name"', '1234567890'])(
    'are read back by another library: Code 128 %s',
    async (lot) => {
      const picture = await drawSvg(svgOf(await code128(lot), lot), 900);
      expect(decode(picture, 'code128')).toBe(lot);
    },
  );

  it('hold no markup of the text they name', async () => {
    expect(svgOf(await code128('X'), '"><script>alert(1)</script>')).not.toContain('<script');
  });
});

describe('contents on a label', () => {
  // NIST Handbook 44 (2014), appendix C: 1 oz avoirdupois = 28.349 523 125 g, 1 US fl oz = 29.573 529 562 5 ml
  it.each([
    [{ netMg: null, netUl: 100_000 }, '100 ml / 3.38 fl oz'],
    [{ netMg: null, netUl: 30_000 }, '30 ml / 1.01 fl oz'],
    [{ netMg: null, netUl: 250_000 }, '250 ml / 8.45 fl oz'],
    [{ netMg: null, netUl: 473_176 }, '473.176 ml / 15.9 fl oz'],
    [{ netMg: null, netUl: 473_177 }, '473.177 ml / 16 fl oz'],
    [{ netMg: null, netUl: 1_000_000 }, '1 l / 33.8 fl oz'],
    [{ netMg: 220_000, netUl: null }, '220 g / 7.76 oz'],
    [{ netMg: 110_000, netUl: null }, '110 g / 3.88 oz'],
    [{ netMg: 28_349, netUl: null }, '28.349 g / 0.99 oz'],
    [{ netMg: 28_350, netUl: null }, '28.35 g / 1 oz'],
    [{ netMg: 1_500_000, netUl: null }, '1.5 kg / 52.9 oz'],
  ])('%o are written %s, never more than there is', (net, text) => {
    expect(netText(net)).toBe(text);
  });

  it('are not written where nobody stated them', () => {
    expect(netText({ netMg: null, netUl: null })).toBeNull();
  });
});
