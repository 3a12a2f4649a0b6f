import { describe, expect, it } from 'vitest';
import { checkDigit, gtin14, lotLink, ownGtin, tradeIdOf } from '../../src/kernel/trace/gs1.js';

describe('numbers of trade items', () => {
  // GS1's own example number, in the examples of GS1 Digital Link Standard: URI Syntax 1.2
  it('know their check digit', () => {
    expect(checkDigit('0950600013435')).toBe(2);
    expect(gtin14('9506000134352')).toBe('09506000134352');
    expect(gtin14('9506000134353')).toBeUndefined();
    expect(gtin14('950600013435')).toBeUndefined();
  });

  // 7 x 3 + 6 + 5 x 3 + 4 + 3 x 3 + 2 + 1 x 3 = 60, and so on
  it('have 8, 12, 13 or 14 digits, and are written with fourteen', () => {
    expect(gtin14('12345670')).toBe('00000012345670');
    expect(gtin14('123456789012')).toBe('00123456789012');
    expect(gtin14('1234567890128')).toBe('01234567890128');
    expect(gtin14('12345678901231')).toBe('12345678901231');
    for (const text of ['', '0', '1234565', '123456784', '12345678905', '123456789012312', 'x12345670', '12345670x'])
      expect([text, gtin14(text)]).toEqual([text, undefined]);
  });

  it('leave room for as many serials as the prefix leaves digits', () => {
    expect(ownGtin('0614141', 99_999)).toBe(`0061414199999${checkDigit('0061414199999')}`);
    expect(ownGtin('12345678901', 9)).toBe(`0123456789019${checkDigit('0123456789019')}`);
    expect(ownGtin('12345678901', 10)).toBeUndefined();
    expect(ownGtin('1234567890123', 1)).toBeUndefined();
  });

  it('are made of a company prefix and a serial', () => {
    expect(ownGtin('0614141', 7)).toBe('00614141000074'.slice(0, 13) + checkDigit('0061414100007'));
    expect(gtin14(ownGtin('0614141', 7)!)).toBe(ownGtin('0614141', 7));
    expect(ownGtin('123456789012', 1)).toBeUndefined();
    expect(ownGtin('0614141', 100_000)).toBeUndefined();
  });
});

describe('identifiers', () => {
  it('of a lot are links', () => {
    expect(lotLink('09506000134352', 'ABC123')).toBe('https://id.gs1.org/01/09506000134352/10/ABC123');
    expect(tradeIdOf(lotLink('09506000134352', 'A/B 1'))).toEqual({ gtin: '09506000134352', lot: 'A/B 1' });
  });

  // both spellings of the same lot are in the standard's published example 9.6.4
  it('mean the same written as a URN and as a link', () => {
    const lot = { gtin: '00614141777778', lot: '987' };
    expect(tradeIdOf('urn:epc:class:lgtin:0614141.077777.987')).toEqual(lot);
    expect(tradeIdOf('https://id.gs1.org/01/00614141777778/10/987')).toEqual(lot);
  });

  it('name pieces and kinds as well', () => {
    expect(tradeIdOf('urn:epc:idpat:sgtin:4012345.066666.*')).toEqual({ gtin: '04012345666663' });
    expect(tradeIdOf('urn:epc:id:sgtin:4012345.077889.25')).toMatchObject({ serial: '25' });
    expect(tradeIdOf('https://shop.example.org/a/01/04012345666663/21/7?17=260731')).toEqual({
      gtin: '04012345666663',
      serial: '7',
    });
  });

  it('may be told with a variant, a lot and a piece at once, on any address', () => {
    const both = { gtin: '00614141777778', lot: '9/8', serial: 'S 7' };
    expect(tradeIdOf('http://example.org/01/614141777778/22/2A/10/9%2F8/21/S%207')).toEqual(both);
    expect(tradeIdOf('https://example.org/x/y/01/00614141777778/10/9%2F8/21/S%207#top')).toEqual(both);
    // what cannot be decoded stays as it is written
    expect(tradeIdOf('https://example.org/01/00614141777778/10/100%')).toEqual({ gtin: both.gtin, lot: '100%' });
    expect(tradeIdOf('https://example.org/01/00614141777778')).toEqual({ gtin: both.gtin });
    expect(tradeIdOf('https://example.org/01/00614141777778?10=987')).toEqual({ gtin: both.gtin });
  });

  it('of a URN share thirteen digits between prefix and item, the indicator first', () => {
    const gtin = '10614140777778';
    expect(checkDigit('1061414077777')).toBe(Number(tradeIdOf('urn:epc:id:sgtin:061414.1077777.1')!.gtin.at(-1)));
    expect(tradeIdOf('urn:epc:id:sgtin:061414.1077777.A%2F1')).toEqual({
      gtin: gtin.slice(0, 13) + checkDigit(gtin.slice(0, 13)),
      serial: 'A/1',
    });
    expect(tradeIdOf('urn:epc:class:lgtin:061414107777.7.A%2F1')).toEqual({
      gtin: `7061414107777${checkDigit('7061414107777')}`,
      lot: 'A/1',
    });
    expect(tradeIdOf('urn:epc:class:lgtin:4012345.066666.*')).toMatchObject({ lot: '*' });
  });

  it.each([
    'https://id.gs1.org/01/00614141777778/99/987',
    'https://id.gs1.org/01/00614141777778/10/987/',
    'https://id.gs1.org/01/614141777778x/10/987',
    'ftp://id.gs1.org/01/00614141777778/10/987',
    'see https://id.gs1.org/01/00614141777778/10/987',
    'https://id.gs1.org/search?at=/01/00614141777778/10/987',
    'see urn:epc:class:lgtin:0614141.077777.987',
    'urn:epc:class:lgtin:0614141.077777.987.1',
    'urn:epc:class:lgtin:06141.10777777.987',
    'urn:epc:class:lgtin:0614141.077777.',
    'urn:epc:class:sgtin:0614141.077777.987',
    'urn:epc:id:lgtin:0614141.077777.987',
    'https://id.gs1.org/01/00614141777779/10/987',
    'https://id.gs1.org/414/0614141777778',
    'urn:epc:class:lgtin:0614141.07777.987',
    'urn:epc:id:sgln:0614141.00777.0',
    'urn:lotwright:a:lot:X:1',
    'nothing',
  ])('are nothing else: %s', (uri) => expect(tradeIdOf(uri)).toBeUndefined());
});
