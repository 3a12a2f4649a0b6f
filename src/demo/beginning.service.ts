import { Injectable } from '@nestjs/common';
import { Database } from '../platform/database.js';

/** How far a workshop is set up. */
export interface Beginning {
  /** Whether its owner has said how it works. */
  isNamed: boolean;
  isDemo: boolean;
  vessels: number;
  materials: number;
  /** Bulks, products and sets. */
  made: number;
  formulas: number;
  lots: number;
  channels: number;
  orders: number;
  plans: number;
}

/** What a new workshop has already, and so what comes next. */
@Injectable()
export class BeginningService {
  constructor(private readonly database: Database) {}

  get(): Promise<Beginning> {
    return this.database.read(async (tx) => (await tx.query<Beginning[]>(BEGINNING))[0]!);
  }
}

/* The row an emptied workshop is left with has never been set by anybody, and is called so. */
const BEGINNING = `
  select coalesce((select name <> 'Workshop' from workshop), false) as "isNamed",
    coalesce((select is_demo from workshop), false) as "isDemo",
    (select count(*) from vessel) as vessels,
    (select count(*) from item where kind = 'material') as materials,
    (select count(*) from item where kind <> 'material') as made,
    (select count(*) from formula) as formulas,
    (select count(*) from lot) as lots,
    (select count(*) from channel) as channels,
    (select count(*) from customer_order) as orders,
    (select count(*) from run) as plans`;
