import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { Family, ItemKind, LotDateKind } from '../catalog/item.entity.js';
import { itemByCode } from '../catalog/items.service.js';
import { parseQuantity, QuantityError } from '../kernel/measure/quantity.js';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import { benchRulesOf } from '../checks/bench-rules.service.js';
import { allergensIn, formulasUsed, ingredientsOf } from './ingredients.js';
import { freeCode } from '../checks/free-code.js';
import { labelPdf } from './label-pdf.js';
import type { LabelSheet } from './label-sheets.js';
import { labelSheets, sheetOf, writeSheet } from './label-sheets.js';
import { cautionTexts, dateTexts, netText } from './label-text.js';
import type {
  AllergensPut,
  AllergensView,
  ItemLabelPut,
  ItemLabelView,
  LabelPdfQuery,
  LabelSheetPut,
  LabelView,
} from './labels.schema.js';

export const LABEL_NOTICE = 'Local law decides what a label must show. Check it before you print.';

interface LabelledLot extends ItemLabelView {
  lotId: number;
  lot: string;
  itemId: number;
  itemName: string;
  kind: ItemKind;
  family: Family;
  flammable: boolean;
  lotDateKind: LotDateKind;
  expiresOn: string | null;
}

/** What stands on a label, and labels to print. */
@Injectable()
export class LabelsService {
  constructor(private readonly database: Database) {}

  /** `origin` is where these pages are asked from, for a workshop that has not said where they are reached. */
  label(lot: string, origin: string): Promise<LabelView> {
    return this.database.read((tx) => labelOf(tx, lot, origin));
  }

  /** Throws 404 for an unknown lot, 422 for an unknown sheet, 409 `label-too-small`. */
  async pdf(lot: string, origin: string, query: LabelPdfQuery): Promise<Buffer> {
    const { label, sheet } = await this.database.read(async (tx) => ({
      label: await labelOf(tx, lot, origin),
      sheet: query.sheet === undefined ? singleSheet(query) : await sheetByCode(tx, query.sheet),
    }));
    if (query.skip >= sheet.columns * sheet.rows)
      throw invalid('/query/skip', `The sheet has only ${sheet.columns * sheet.rows} labels.`);
    return labelPdf(label, sheet, { copies: query.copies, skip: query.skip, bars: query.bars === 'yes' });
  }

  /** Throws a 404 problem for an unknown lot. */
  codes(lot: string, origin: string): Promise<{ lot: string; address: string }> {
    return this.database.read(async (tx) => ({
      lot,
      address: await addressOf(tx, (await lotOf(tx, lot)).lot, origin),
    }));
  }

  itemLabel(code: string): Promise<ItemLabelView> {
    return this.database.read(async (tx) => itemLabelOf(tx, (await itemByCode(tx, code)).id));
  }

  /** Says what the labels of an item state, in place of what was said before. */
  putItemLabel(who: string, code: string, body: ItemLabelPut): Promise<ItemLabelView> {
    return this.database.act({ who }, async (tx) => {
      const item = await itemByCode(tx, code);
      const net = netOf(body.net, '/net');
      const short = netOf(body.allowedShort, '/allowedShort');
      if (net !== null && item.kind !== 'product') throw invalid('/net', 'Only a product has contents of its own.');
      if (short !== null && (net === null || (short.ul === null) !== (net.ul === null)))
        throw invalid('/allowedShort', 'State it as the contents are: both by weight, or both by volume.');
      await tx.query(
        `insert into item_label (item_id, printed_name, net_mg, net_ul, allowed_short, opened_months, contact, cautions,
           maker) values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
         on conflict (item_id) do update set printed_name = excluded.printed_name, net_mg = excluded.net_mg,
           net_ul = excluded.net_ul, allowed_short = excluded.allowed_short, opened_months = excluded.opened_months,
           contact = excluded.contact, cautions = excluded.cautions, maker = excluded.maker,
           updated_by = acting_person(), updated_at = now()`,
        [
          item.id,
          body.printedName,
          net?.mg ?? null,
          net?.ul ?? null,
          short === null ? null : (short.mg ?? short.ul),
          body.openedMonths,
          body.contact,
          body.cautions,
          body.maker,
        ],
      );
      return itemLabelOf(tx, item.id);
    });
  }

  allergens(code: string): Promise<AllergensView> {
    return this.database.read(async (tx) => allergensOf(tx, (await itemByCode(tx, code)).id));
  }

  /** What is known of the fragrances among these ingredients, in one look. */
  allergensKnown(
    ingredients: readonly { item: string; name: string }[],
  ): Promise<{ item: string; name: string; known: AllergensView['allergens'] }[]> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<{ item: string; known: AllergensView['allergens'] }[]>(
        `select i.code as item, coalesce(json_agg(json_build_object('name', a.name, 'partPpb', a.part_ppb,
             'source', a.source, 'dated', a.dated) order by a.part_ppb desc, a.name) filter (where a.name is not null),
             '[]') as known
         from item i left join allergen a on a.item_id = i.id
         where i.code = any($1::text[]) and (i.family = 'fragrance' or a.name is not null) group by i.id`,
        [ingredients.map(({ item }) => item)],
      );
      return ingredients.flatMap(({ item, name }) => {
        const row = rows.find((one) => one.item === item);
        return row ? [{ item, name, known: row.known }] : [];
      });
    });
  }

  /** All that is known of a material's allergens, in place of what was known before. */
  putAllergens(who: string, code: string, { allergens }: AllergensPut): Promise<AllergensView> {
    return this.database.act({ who }, async (tx) => {
      const item = await itemByCode(tx, code, true);
      if (item.kind !== 'material') throw invalid('/allergens', 'State them of the materials; what is made follows.');
      await tx.query('delete from allergen where item_id = $1', [item.id]);
      await tx.query(
        `insert into allergen (item_id, name, part_ppb, source, dated)
         select $1, a.name, a.part, a.source, a.dated
         from jsonb_to_recordset($2::jsonb) as a (name text, part bigint, source text, dated date)`,
        [item.id, JSON.stringify(allergens)],
      );
      return allergensOf(tx, item.id);
    });
  }

  sheets(): Promise<{ labelSheets: LabelSheet[] }> {
    return this.database.read(async (tx) => ({ labelSheets: await labelSheets(tx) }));
  }

  putSheet(who: string, code: string, body: LabelSheetPut): Promise<LabelSheet> {
    const sheet = sheetOf(code, body);
    return this.database.act({ who }, (tx) => writeSheet(tx, sheet));
  }

  /** Adds a sheet under a code made of its name. Throws 422 problems; no two sheets have the same name. */
  addSheet(who: string, body: LabelSheetPut): Promise<LabelSheet> {
    return this.database.act({ who }, async (tx) => {
      const known = await labelSheets(tx);
      if (known.some(({ name }) => name.toLowerCase() === body.name.toLowerCase()))
        throw invalid('/name', 'There is a sheet of this name already.', 'already-so');
      const code = freeCode(body.name, new Set(known.map((sheet) => sheet.code)));
      return writeSheet(tx, sheetOf(code, body));
    });
  }
}

async function labelOf(tx: EntityManager, code: string, origin: string): Promise<LabelView> {
  const lot = await lotOf(tx, code);
  const rules = await benchRulesOf(tx);
  // of a set each part bears a label of its own
  const isWhole = lot.kind === 'product' || lot.kind === 'bulk';
  const ingredients = isWhole ? await ingredientsOf(tx, lot.itemId, await formulasUsed(tx, lot.lotId)) : [];
  const abovePpb = lot.contact === 'rinse-off' ? rules.rinseOffPpb : rules.leaveOnPpb;
  const allergens = await allergensIn(tx, ingredients, abovePpb);
  const open = [
    lot.kind === 'product' && lot.netMg === null && lot.netUl === null ? 'The contents are not stated.' : '',
    lot.maker === '' ? 'Who made it is not stated.' : '',
    lot.expiresOn === null && lot.openedMonths === null ? 'No date and no time after opening is stated.' : '',
    isWhole && ingredients.length === 0 ? 'There is no formula that says what is in it.' : '',
    lot.contact === 'none' && ingredients.length > 0
      ? 'Allergens are not named, since nothing says that it touches skin.'
      : '',
    lot.contact !== 'none' && allergens.unknown.length > 0
      ? `What allergens are in ${allergens.unknown.join(', ')} is not known here.`
      : '',
  ];
  return {
    lot: lot.lot,
    item: lot.item,
    name: lot.printedName === '' ? lot.itemName : lot.printedName,
    net: netText(lot),
    dates: dateTexts({ kind: lot.lotDateKind, expiresOn: lot.expiresOn, openedMonths: lot.openedMonths }),
    ingredients: ingredients.map(({ code: item, name, partPpb }) => ({ item, name, partPpb })),
    allergens: lot.contact === 'none' ? [] : allergens.named,
    cautions: cautionTexts(lot, lot.cautions),
    maker: lot.maker,
    address: await addressOf(tx, lot.lot, origin),
    open: open.filter((text) => text !== ''),
    notice: LABEL_NOTICE,
  };
}

async function addressOf(tx: EntityManager, lot: string, origin: string): Promise<string> {
  const { address } = await benchRulesOf(tx);
  return `${address === '' ? origin : address}/shelf/lots/${encodeURIComponent(lot)}`;
}

const ITEM_LABEL = `
  i.code as item, coalesce(l.printed_name, '') as "printedName", l.net_mg as "netMg", l.net_ul as "netUl",
  l.allowed_short as "allowedShort", l.opened_months as "openedMonths", coalesce(l.contact, 'none') as contact,
  coalesce(l.cautions, '{}') as cautions, coalesce(l.maker, '') as maker`;

async function itemLabelOf(tx: EntityManager, itemId: number): Promise<ItemLabelView> {
  const rows = await tx.query<ItemLabelView[]>(
    `select ${ITEM_LABEL} from item i left join item_label l on l.item_id = i.id where i.id = $1`,
    [itemId],
  );
  return rows[0]!;
}

async function lotOf(tx: EntityManager, code: string): Promise<LabelledLot> {
  const rows = await tx.query<LabelledLot[]>(
    `select lot.id as "lotId", lot.code as lot, i.id as "itemId", i.name as "itemName", i.kind, i.family, i.flammable,
       i.lot_date_kind as "lotDateKind", lot.expires_on as "expiresOn", ${ITEM_LABEL}
     from lot join item i on i.id = lot.item_id left join item_label l on l.item_id = i.id where lot.code = $1`,
    [code],
  );
  if (!rows[0]) throw notFound('lot', code);
  return rows[0];
}

async function allergensOf(tx: EntityManager, itemId: number): Promise<AllergensView> {
  const allergens = await tx.query<AllergensView['allergens']>(
    `select name, part_ppb as "partPpb", source, dated from allergen where item_id = $1 order by part_ppb desc, name`,
    [itemId],
  );
  return { allergens };
}

/** "220 g" in milligrams, "100 ml" in microlitres: of a volume as if a millilitre weighed a gram. */
function netOf(text: string | null, pointer: string): { mg: number | null; ul: number | null } | null {
  if (text === null) return null;
  const isVolume = /[\d\s](ml|l|fl)\b|lit(re|er)s?$/i.test(text);
  try {
    const amount = parseQuantity(text, { measure: 'weighed', densityUgPerMl: isVolume ? 1_000_000 : null });
    if (amount === 0 || amount > 100_000_000)
      throw invalid(pointer, 'Write contents above nothing, up to 100 kg or l.');
    return isVolume ? { mg: null, ul: amount } : { mg: amount, ul: null };
  } catch (error) {
    if (error instanceof QuantityError) throw invalid(pointer, error.message, error.code);
    throw error;
  }
}

async function sheetByCode(tx: EntityManager, code: string): Promise<LabelSheet> {
  const found = (await labelSheets(tx)).find((sheet) => sheet.code === code);
  if (!found) throw invalid('/query/sheet', `There is no sheet ${code}.`, 'unknown-sheet');
  return found;
}

function singleSheet({ width, height }: LabelPdfQuery): LabelSheet {
  const [widthUm, heightUm] = [Math.round(width * 1000), Math.round(height * 1000)];
  return {
    code: 'single',
    name: 'One label',
    pageWidthUm: widthUm,
    pageHeightUm: heightUm,
    columns: 1,
    rows: 1,
    widthUm,
    heightUm,
    leftUm: 0,
    topUm: 0,
    pitchXUm: widthUm,
    pitchYUm: heightUm,
  };
}
