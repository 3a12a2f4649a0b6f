import { invalid, Problem } from '../platform/problem.js';

/** What a column of an order file may be read as. */
export const ROLES = [
  'number',
  'code',
  'quantity',
  'customer',
  'placedOn',
  'shipBy',
  'notBefore',
  'channel',
  'status',
  'paid',
  'fulfilled',
  'fulfilment',
  'cancelledOn',
  'urgent',
  'weight',
] as const;
export type Role = (typeof ROLES)[number];

/** A role and the header of the column that has it; an empty header says that no column has it. */
export type ColumnMap = Partial<Record<Role, string>>;

/** A role and the place of its column, counted from 0. */
export type Columns = Partial<Record<Role, number>>;

const HEADERS_SHOWN = 60;

/**
 * Headers in use for each role, without blanks, signs and accents, in ranks: a column of a later rank is taken only
 * where none of an earlier rank is there. Common practice, no source.
 */
const SYNONYMS: Readonly<Record<Role, readonly string[]>> = {
  number: [
    'ordernumber orderno ordernr ordernum orderref orderreference bestellnummer bestellnr auftragsnummer auftragsnr ' +
      'numerodecommande numerocommande numerodepedido bestelnummer ordernummer',
    'order ordername ordercode commande pedido',
    'orderid',
    'number ponumber pono purchaseorder purchaseordernumber salesorder salesordernumber',
  ],
  code: [
    'sku itemcode itemsku lineitemsku variantsku productcode productsku shopcode articlecode',
    'itemnumber itemno articlenumber articleno artikelnummer artikelnr artikelcode partnumber partno codearticle ' +
      'referenceproduit referenciaproducto codigoproducto',
    'code item',
  ],
  quantity: [
    'quantity qty orderedquantity quantityordered orderedqty qtyordered orderquantity orderqty lineitemquantity ' +
      'itemquantity menge anzahl quantite qte cantidad aantal',
    'units pieces pcs count',
  ],
  customer: [
    'customer customername client clientname buyer buyername kunde kundenname nomduclient nomclient cliente klant klantnaam',
    'shippingname shiptoname recipient recipientname',
    'billingname billtoname',
  ],
  placedOn: [
    'placedon placedat placed dateplaced orderdate dateordered orderedon orderedat ordered orderplaced orderplacedon ' +
      'bestelldatum auftragsdatum datedecommande datecommande fechadepedido fechapedido besteldatum orderdatum',
    'createdat createdon created datecreated ordercreated',
    'date datum fecha',
  ],
  shipBy: [
    'shipby shipbydate dispatchby dispatchbydate despatchby shipbefore latestshipdate shipnolaterthan ' +
      'promisedshipdate versandbis versandtermin expedieravant',
    'duedate due dueon requireddate requiredby neededby needby promiseddate promisedate',
  ],
  notBefore: ['notbefore notbeforedate shipnotbefore donotshipbefore earliestshipdate shipafter nichtvor'],
  channel: ['channel channelname saleschannel kanal', 'shop shopname store storename', 'source marketplace'],
  status: ['orderstatus orderstate', 'status state statut estado'],
  paid: [
    'financialstatus paymentstatus paymentstate zahlungsstatus statutdepaiement',
    'paid ispaid bezahlt paye pagado betaald',
    'paidat paidon datepaid paymentdate',
  ],
  fulfilled: [
    'fulfilledquantity quantityfulfilled fulfilledqty qtyfulfilled shippedquantity quantityshipped shippedqty qtyshipped',
  ],
  fulfilment: [
    'lineitemfulfillmentstatus lineitemfulfilmentstatus itemfulfillmentstatus itemfulfilmentstatus',
    'fulfillmentstatus fulfilmentstatus shippingstatus shipmentstatus deliverystatus versandstatus',
    'fulfilled shipped',
    'fulfilledat fulfilledon shippedat shippedon dateshipped',
  ],
  cancelledOn: [
    'cancelledat canceledat cancelledon canceledon datecancelled datecanceled cancellationdate cancelled canceled ' +
      'storniert storniertam annulele',
  ],
  urgent: ['urgent isurgent urgentorder orderurgent rush isrush rushorder dringend eilig urgente spoed'],
  // a shop's column called weight says what a parcel weighs
  weight: ['countsas orderweighting weighting gewichtung'],
};

const RANKS: ReadonlyMap<Role, ReadonlySet<string>[]> = new Map(
  ROLES.map((role) => [role, SYNONYMS[role].map((rank) => new Set(rank.split(' ')))]),
);

/** A header as it is compared: without case, accents, blanks and signs. */
export function plainHeader(header: string): string {
  return header
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]/gu, '');
}

/**
 * Which column has which role: as `map` says, else by name. Throws a 422 problem `columns` that lists the header and
 * what was matched when the map names no column or an unknown one, when two columns match one role equally well, or when
 * order number, item code, quantity, a date (placed or ship-by) or, unless `hasChannel`, the channel is missing.
 */
export function matchColumns(header: readonly string[], map: ColumnMap, hasChannel: boolean): Columns {
  const plain = header.map(plainHeader);
  const columns: Columns = {};
  const faults: string[] = [];
  for (const role of ROLES) {
    const wanted = map[role];
    if (wanted === undefined || wanted === '') continue;
    const at = placesOf(header, plain, wanted);
    if (at.length === 1) columns[role] = at[0]!;
    else
      faults.push(
        `${at.length === 0 ? 'no column is' : `${at.length} columns are`} called "${shown(wanted)}" (${role})`,
      );
  }
  const taken = new Set(Object.values(columns));
  for (const role of ROLES) {
    if (map[role] !== undefined) continue;
    const at = bestRank(role, plain, taken);
    if (at.length === 1) columns[role] = at[0]!;
    if (at.length > 1)
      faults.push(`${at.map((place) => `"${shown(header[place]!)}"`).join(' and ')} both look like the ${role}`);
  }
  if (faults.length === 0) faults.push(...missing(columns, hasChannel));
  if (faults.length > 0) throw columnsProblem(header, columns, faults);
  return columns;
}

/**
 * The column map as it comes with a request: JSON text `{"number": "Header"}`, or one or more `role:Header`. Throws a
 * 422 problem at `/query/map`.
 */
export function readColumnMap(given: string | readonly string[] | undefined): ColumnMap {
  if (given === undefined) return {};
  const entries =
    typeof given === 'string' && given.trimStart().startsWith('{') ? jsonEntries(given) : [given].flat().map(pair);
  const map: ColumnMap = {};
  for (const [role, header] of entries) {
    if (!isRole(role))
      throw invalid('/query/map', `"${shown(role)}" is not a role. The roles are ${ROLES.join(', ')}.`);
    if (map[role] !== undefined) throw invalid('/query/map', `The role ${role} is given twice.`);
    map[role] = header;
  }
  return map;
}

function isRole(text: string): text is Role {
  return (ROLES as readonly string[]).includes(text);
}

function pair(text: string): [string, string] {
  const colon = text.indexOf(':');
  if (colon < 0) throw invalid('/query/map', 'Write a column as role:Header, for example number:Order no.');
  return [text.slice(0, colon).trim(), text.slice(colon + 1).trim()];
}

function jsonEntries(text: string): [string, string][] {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    throw invalid('/query/map', 'The column map is not valid JSON.');
  }
  // text that starts with a brace parses to an object or not at all
  return Object.entries(value as Record<string, unknown>).map(([role, header]) => {
    if (typeof header !== 'string') throw invalid('/query/map', `The header of ${shown(role)} must be text.`);
    return [role, header.trim()];
  });
}

function placesOf(header: readonly string[], plain: readonly string[], wanted: string): number[] {
  const places = [...header.keys()];
  const exact = places.filter((place) => header[place]!.trim() === wanted);
  return exact.length > 0 ? exact : places.filter((place) => plain[place] === plainHeader(wanted));
}

function bestRank(role: Role, plain: readonly string[], taken: ReadonlySet<number>): number[] {
  for (const rank of RANKS.get(role)!) {
    const at = [...plain.keys()].filter((place) => rank.has(plain[place]!) && !taken.has(place));
    if (at.length > 0) return at;
  }
  return [];
}

function missing(columns: Columns, hasChannel: boolean): string[] {
  const faults: string[] = [];
  if (columns.number === undefined) faults.push('no column is the order number');
  if (columns.code === undefined) faults.push('no column is the item code');
  if (columns.quantity === undefined) faults.push('no column is the quantity');
  if (columns.placedOn === undefined && columns.shipBy === undefined)
    faults.push('no column says when an order was placed or by when it must ship');
  if (columns.channel === undefined && !hasChannel)
    faults.push('no column is the channel, and none is named for the whole file');
  return faults;
}

function columnsProblem(header: readonly string[], columns: Columns, faults: readonly string[]): Problem {
  const matched = Object.fromEntries(Object.entries(columns).map(([role, place]) => [role, shown(header[place]!)]));
  const list = header.slice(0, HEADERS_SHOWN).map((text) => shown(text));
  const detail =
    `The columns are not clear: ${faults.join('; ')}. ` +
    `The header is: ${list.join(' | ')}. Matched: ${pairs(matched) || 'nothing'}. ` +
    'Say which column is which with map=role:Header; map=role: leaves a role out; channel=... is that of the whole file.';
  return new Problem({ status: 422, code: 'columns', detail, extra: { header: list, matched, faults } });
}

function pairs(matched: Readonly<Record<string, string>>): string {
  return Object.entries(matched)
    .map(([role, header]) => `${role} = ${header}`)
    .join(', ');
}

function shown(text: string): string {
  return text.length > 60 ? `${text.slice(0, 60)}…` : text;
}
