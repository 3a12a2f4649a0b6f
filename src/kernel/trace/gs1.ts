/** What an identifier of the GS1 system names: a trade item, and of it a lot or one piece. */
export interface TradeId {
  /** Fourteen digits. */
  gtin: string;
  lot?: string;
  serial?: string;
}

/** Modulo 10 over digits weighted 3 and 1 from the right: GS1 General Specifications, 7.9. */
export function checkDigit(digits: string): number {
  let sum = 0;
  for (let at = 0; at < digits.length; at++) sum += Number(digits[digits.length - 1 - at]) * (at % 2 === 0 ? 3 : 1);
  return (10 - (sum % 10)) % 10;
}

/** The fourteen digits of a number of 8, 12, 13 or 14, or undefined where its check digit is wrong. */
export function gtin14(text: string): string | undefined {
  if (!/^(?:\d{8}|\d{12,14})$/.test(text)) return undefined;
  return checkDigit(text.slice(0, -1)) === Number(text.at(-1)) ? text.padStart(14, '0') : undefined;
}

/** A trade number of our own: the company prefix and a serial fill twelve digits, before them a zero. */
export function ownGtin(companyPrefix: string, serial: number): string | undefined {
  const room = 12 - companyPrefix.length;
  const reference = String(serial).padStart(room, '0');
  if (room < 1 || reference.length > room) return undefined;
  const digits = `0${companyPrefix}${reference}`;
  return digits + checkDigit(digits);
}

/** GS1 Digital Link URI of a lot of a trade item: GS1 Digital Link Standard, URI Syntax 1.2. */
export function lotLink(gtin: string, lot: string): string {
  return `https://id.gs1.org/01/${gtin}/10/${encodeURIComponent(lot)}`;
}

/**
 * What a URI names, written as a Digital Link on whatever address, or as an EPC URN (Tag Data Standard 2.0, 6 and 8):
 * `urn:epc:class:lgtin`, `urn:epc:id:sgtin`, `urn:epc:idpat:sgtin`. Undefined for anything else and for a wrong check digit.
 */
export function tradeIdOf(uri: string): TradeId | undefined {
  const link = /^https?:\/\/[^?#]*\/01\/(\d{8}|\d{12,14})((?:\/(?:22|10|21)\/[^/?#]+)*)(?:[?#].*)?$/.exec(uri);
  if (link) {
    const gtin = gtin14(link[1]!);
    const qualifiers = new Map(
      [...link[2]!.matchAll(/\/(22|10|21)\/([^/]+)/g)].map(([, ai, of]) => [ai, decoded(of!)]),
    );
    return gtin === undefined ? undefined : named(gtin, qualifiers.get('10'), qualifiers.get('21'));
  }
  const urn = /^urn:epc:(class:lgtin|id:sgtin|idpat:sgtin):(\d{6,12})\.(\d{1,7})\.([^.]+)$/.exec(uri);
  if (!urn || urn[2]!.length + urn[3]!.length !== 13) return undefined;
  const [, scheme, prefix, reference, last] = urn;
  // the indicator stands first in the number, and first in the item reference here
  const digits = reference![0]! + prefix! + reference!.slice(1);
  const gtin = digits + checkDigit(digits);
  if (scheme === 'class:lgtin') return named(gtin, decoded(last!), undefined);
  return named(gtin, undefined, last === '*' ? undefined : decoded(last!));
}

function named(gtin: string, lot: string | undefined, serial: string | undefined): TradeId {
  return { gtin, ...(lot !== undefined && { lot }), ...(serial !== undefined && { serial }) };
}

function decoded(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}
