import type { EntityManager } from 'typeorm';
import { formulaCreate } from '../catalog/formulas.schema.js';
import { addFormula } from '../catalog/formulas.service.js';
import { Item, UseLimit } from '../catalog/item.entity.js';
import { itemCreate } from '../catalog/items.schema.js';
import { newItem } from '../catalog/items.service.js';
import { vesselCreate } from '../catalog/workshop.schema.js';
import { addVessel } from '../catalog/workshop.service.js';
import { addDays } from '../kernel/measure/day.js';
import { WHOLE_PPB } from '../platform/schema.js';
import { Pack, Supplier } from '../purchasing/purchasing.entity.js';
import { packCreate, supplierCreate } from '../purchasing/purchasing.schema.js';
import { newPack } from '../purchasing/suppliers.service.js';
import type { DemoDays } from './demo-days.js';
import { BULKS } from './formulas.js';
import { loadLabels } from './load-labels.js';
import type { ItemRow } from './materials.js';
import { MATERIAL_ITEMS, PACKS, SUPPLIERS } from './materials.js';
import { PRODUCTS, SEASONAL_SPRAY } from './products.js';
import { USE_LIMITS, VESSELS } from './stock.js';

/** What the rest of the demonstration refers to. */
export interface Shelf {
  /** By code. */
  items: Map<string, Item>;
  /** By item id: a middling pack of each bought item, for what a lot of it may have cost. */
  packs: Map<number, Pack>;
}

const SEASON_DAYS_BEFORE = 20;
const SEASON_DAYS_AFTER = 70;
const CERTIFIED_DAYS_AGO = 200;

/** Vessels, items, formulas, use limits, suppliers and packs. */
export async function loadCatalog(tx: EntityManager, days: DemoDays): Promise<Shelf> {
  for (const vessel of VESSELS) await addVessel(tx, vesselCreate.parse(vessel));
  const items = await loadItems(tx, days);
  for (const { item, formula } of [...BULKS, ...PRODUCTS])
    await addFormula(tx, item.code, formulaCreate.parse(formula));
  const limits = USE_LIMITS.map(([code, category, percent]) => ({
    itemId: items.get(code)!.id,
    category,
    limitPpb: Math.round((percent * WHOLE_PPB) / 100),
    source: 'certificate of the invented supplier',
    dated: addDays(days.today, -CERTIFIED_DAYS_AGO),
  }));
  await tx.insert(UseLimit, limits);
  await loadLabels(tx, items, addDays(days.today, -CERTIFIED_DAYS_AGO));
  return { items, packs: await loadPacks(tx, items) };
}

async function loadItems(tx: EntityManager, days: DemoDays): Promise<Map<string, Item>> {
  const made = [...BULKS, ...PRODUCTS].map(({ item }) => inSeason(item, days));
  const items = [...MATERIAL_ITEMS, ...made].map((row) => newItem(tx, itemCreate.parse(row)));
  await tx.insert(Item, items);
  return new Map(items.map((item) => [item.code, item]));
}

async function loadPacks(tx: EntityManager, items: Map<string, Item>): Promise<Map<number, Pack>> {
  const suppliers = SUPPLIERS.map((supplier) => tx.create(Supplier, supplierCreate.parse(supplier)));
  await tx.insert(Supplier, suppliers);
  const byCode = new Map(suppliers.map((supplier) => [supplier.code, supplier]));
  const packs = PACKS.map((row) => newPack(tx, packCreate.parse(row), byCode.get(row.supplier)!, items.get(row.item)!));
  await tx.insert(Pack, packs);
  const middling = new Map<number, Pack>();
  for (const pack of packs)
    if (!middling.has(pack.itemId) || pack.code.endsWith('1LB')) middling.set(pack.itemId, pack);
  return middling;
}

function inSeason(item: ItemRow, { today }: DemoDays): ItemRow {
  if (item.code !== SEASONAL_SPRAY.item.code) return item;
  return {
    ...item,
    policy: 'seasonal',
    target: 12,
    seasonFrom: addDays(today, -SEASON_DAYS_BEFORE),
    seasonTo: addDays(today, SEASON_DAYS_AFTER),
  };
}
