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

  it.each([
    'https://id.gs1.org/01/00614141777779/10/987',
    'https://id.gs1.org/414/0614141777778',
    'urn:epc:class:lgtin:0614141.07777.987',
    'urn:epc:id:sgln:0614141.00777.0',
    'urn:lotwright:a:lot:X:1',
    'nothing',
  ])('are nothing else: %s', (uri) => expect(tradeIdOf(uri)).toBeUndefined());
});
