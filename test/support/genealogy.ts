import { addDays } from '../../src/kernel/measure/day.js';
import type { TestDatabase } from './database.js';
import { DAYS_A_STEP, MATERIALS, RECIPES, SOLD, START, openTraced } from './genealogy-workshop.js';
import type { Input, KnownGenealogy, KnownLot, Recipe, TracedWorkshop, Weighed } from './genealogy-workshop.js';
import { seeded } from './workshop.js';

/**
 * Several years of a workshop at random, the same for the same seed: deliveries, batches of batches with leftovers, wrong
 * weighings put right, rejected lots worked into others, splits and splits taken back, shipments and returns that are sold
 * again or worked in, holds, samples. Written with all guards of the database on. Answers what it did by its own account.
 */
export async function writeGenealogy(database: TestDatabase, seed: number, steps: number): Promise<KnownGenealogy> {
  const writer = new Writer(database, seed, await openTraced(database));
  for (let step = 0; step < steps; step++) await writer.step(addDays(START, step * DAYS_A_STEP));
  return writer.known;
}

class Writer {
  readonly known: KnownGenealogy = {
    lots: new Map(),
    amounts: new Map(),
    sent: new Map(),
    returned: new Map(),
    done: new Map(),
  };
  private readonly pick: (below: number) => number;
  private serial = 0;
  private day = START;

  constructor(
    private readonly database: TestDatabase,
    private readonly seed: number,
    private readonly shop: TracedWorkshop,
  ) {
    this.pick = seeded(seed);
  }

  private async one(sql: string, values: unknown[] = []): Promise<number> {
    return (await this.database.query<{ id: number }>(sql, values))[0]!.id;
  }

  private count(what: string): void {
    this.known.done.set(what, (this.known.done.get(what) ?? 0) + 1);
  }

  async step(day: string): Promise<void> {
    this.day = day;
    const acts: [weight: number, act: () => Promise<void>][] = [
      [6, () => this.receive()],
      [14, () => this.make()],
      [6, () => this.ship()],
      [2, () => this.takeBack()],
      [2, () => this.split()],
      [2, () => this.hold()],
      [2, () => this.rework()],
      [2, () => this.takeAway()],
      [1, () => this.tryLoop()],
    ];
    let at = this.pick(acts.reduce((sum, [weight]) => sum + weight, 0));
    for (const [weight, act] of acts) {
      if (at < weight) return act();
      at -= weight;
    }
  }

  private available(item: string): KnownLot[] {
    return [...this.known.lots.values()].filter(
      (lot) => lot.item === item && lot.status === 'released' && lot.left > 0,
    );
  }

  private any<Of>(of: readonly Of[]): Of | undefined {
    return of.length === 0 ? undefined : of[this.pick(of.length)];
  }

  private async newLot(
    item: string,
    sources: readonly KnownLot[],
    rest: { status?: KnownLot['status'] | 'quarantine'; parentId?: number; batchId?: number; supplierId?: number } = {},
  ): Promise<KnownLot> {
    const code = `L${this.seed}-${++this.serial}`;
    const id = await this.one(
      `insert into lot (code, item_id, status, came_on, parent_lot_id, batch_id, supplier_id, supplier_lot)
       values ($1, $2, $3, $4, $5, $6, $7, $8) returning id`,
      [
        code,
        this.shop.items.get(item),
        rest.status ?? 'released',
        this.day,
        rest.parentId ?? null,
        rest.batchId ?? null,
        rest.supplierId ?? null,
        rest.supplierId ? `SUP-${this.serial}` : '',
      ],
    );
    const status = rest.status === 'quarantine' ? 'released' : (rest.status ?? 'released');
    const comesOf = new Set([code, ...sources.flatMap((source) => [...source.comesOf])]);
    const lot: KnownLot = { id, code, item, comesOf, cameBy: new Set(), left: 0, status, moved: new Map() };
    this.known.lots.set(code, lot);
    return lot;
  }

  private async move(lot: KnownLot, cause: string, quantity: number, rest: Record<string, unknown> = {}) {
    const columns = Object.keys(rest);
    const places = columns.map((_, at) => `$${at + 5}`);
    const id = await this.one(
      `insert into movement (${['lot_id', 'cause', 'quantity', 'done_on', ...columns].join(', ')})
       values (${['$1', '$2', '$3', '$4', ...places].join(', ')}) returning id`,
      [lot.id, cause, quantity, this.day, ...Object.values(rest)],
    );
    lot.left += quantity;
    if (cause !== 'correction') this.tell(lot, cause, quantity);
    return id;
  }

  private tell({ moved }: KnownLot, cause: string, quantity: number): void {
    const side = cause === 'split' ? (quantity > 0 ? 'split from' : 'split off') : cause;
    moved.set(side, (moved.get(side) ?? 0) + quantity);
  }

  private link(from: string, to: string, quantity: number): void {
    this.known.amounts.set(`${from} ${to}`, (this.known.amounts.get(`${from} ${to}`) ?? 0) + quantity);
    if (to.startsWith('lot:')) this.known.lots.get(to.slice(4))!.cameBy.add(`${from} ${to}`);
  }

  /** What went into a batch for these inputs is how a lot of it came to be. */
  private cameOf(lot: KnownLot, batch: { code: string }, inputs: readonly Weighed[]): void {
    for (const { lots } of inputs) for (const source of lots) lot.cameBy.add(`lot:${source.code} batch:${batch.code}`);
  }

  private async receive(): Promise<void> {
    const item = this.any([...MATERIALS, 'BOTTLE'])!;
    const quantity = 2_000 + this.pick(8_000);
    const supplierId = this.any(this.shop.suppliers)!;
    const code = `D${this.seed}-${++this.serial}`;
    const delivery = await this.one(
      `insert into delivery (code, supplier_id, status, expected_on) values ($1, $2, 'received', $3) returning id`,
      [code, supplierId, this.day],
    );
    const line = await this.one(
      `insert into delivery_line (delivery_id, item_id, quantity, received) values ($1, $2, $3, $3) returning id`,
      [delivery, this.shop.items.get(item), quantity],
    );
    const lot = await this.newLot(item, [], { supplierId });
    await this.move(lot, 'receipt', quantity, { delivery_line_id: line });
    this.link(`delivery:${code}`, `lot:${lot.code}`, quantity);
    this.count('receipt');
  }

  private async make(): Promise<void> {
    const recipe = this.any(RECIPES)!;
    const takes = recipe.takes.map((item) => ({ item, lots: this.available(item) }));
    if (takes.some(({ lots }) => lots.length === 0)) return;
    await this.batch(
      recipe,
      takes.map(({ item, lots }) => {
        const first = this.any(lots)!;
        const second = this.pick(4) === 0 ? this.any(lots)! : first;
        return { item, lots: [...new Set([first, second])], reworkLotId: null };
      }),
    );
  }

  /** A rejected lot goes into another batch, alone or with something added. */
  private async rework(): Promise<void> {
    const lot = this.any(
      [...this.known.lots.values()].filter(
        (one) => one.status === 'released' && one.left > 0 && RECIPES.some(({ item }) => item === one.item),
      ),
    );
    if (!lot) return;
    await this.database.query(`update lot set status = 'held' where id = $1`, [lot.id]);
    await this.database.query(`update lot set status = 'rejected' where id = $1`, [lot.id]);
    await this.database.query(`insert into rework (lot_id, why) values ($1, 'mended')`, [lot.id]);
    lot.status = 'rejected';
    const recipe =
      this.shop.measures.get(lot.item) === 'weighed' ? RECIPES.find(({ item }) => item === lot.item)! : undefined;
    const into = recipe ?? RECIPES.find(({ item }) => item === lot.item)!;
    const added = this.any(this.available('BASE'));
    const inputs: Input[] = [{ item: lot.item, lots: [lot], reworkLotId: lot.id }];
    if (added && this.pick(2) === 0) inputs.push({ item: 'BASE', lots: [added], reworkLotId: null });
    await this.batch(into, inputs);
    this.count('rework');
  }

  private async batch(recipe: Recipe, inputs: readonly Input[]): Promise<void> {
    const code = `B${this.seed}-${++this.serial}`;
    const id = await this.one(
      `insert into batch (code, formula_id, item_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes, is_rework)
       values ($1, $2, $3, 'reserved', $4, $4, $4, 1000, 0, 0, $5) returning id`,
      [
        code,
        this.shop.formulas.get(recipe.item),
        this.shop.items.get(recipe.item),
        this.day,
        inputs.some(({ reworkLotId }) => reworkLotId !== null),
      ],
    );
    await this.database.query('insert into peg (batch_id, position, quantity) values ($1, 1, 1000)', [id]);
    const weighed: Weighed[] = [];
    for (const [at, input] of inputs.entries()) weighed.push(await this.weigh({ id, code }, at + 1, input));
    await this.finish(recipe, { id, code }, weighed);
    this.count('batch');
  }

  private async weigh(batch: { id: number; code: string }, position: number, input: Input): Promise<Weighed> {
    const inputId = await this.one(
      `insert into batch_input (batch_id, position, item_id, step, need_on, quantity, rework_lot_id)
       values ($1, $2, $3, 'make', $4, 1000, $5) returning id`,
      [batch.id, position, this.shop.items.get(input.item), this.day, input.reworkLotId],
    );
    const rest = { batch_id: batch.id, batch_input_id: inputId };
    // the wrong lot first, put right at once: it never went in
    const wrong = input.reworkLotId === null ? this.any(this.available(input.item)) : undefined;
    if (wrong && this.pick(5) === 0) {
      const movement = await this.move(wrong, 'consumption', -Math.min(wrong.left, 7), rest);
      await this.correct(wrong, movement);
      this.count('weighing taken back');
    }
    let sum = 0;
    for (const lot of input.lots) {
      const quantity = 1 + this.pick(Math.max(1, Math.floor(lot.left / 3)));
      await this.move(lot, 'consumption', -quantity, rest);
      this.link(`lot:${lot.code}`, `batch:${batch.code}`, quantity);
      sum += quantity;
    }
    return { ...input, inputId, sum };
  }

  private async correct(lot: KnownLot, movement: number): Promise<void> {
    const [was] = await this.database.query<{ cause: string; quantity: number }>(
      'select cause, quantity from movement where id = $1',
      [movement],
    );
    await this.move(lot, 'correction', -was!.quantity, { reverses_id: movement });
    const side = was!.cause === 'split' ? (was!.quantity > 0 ? 'split from' : 'split off') : was!.cause;
    lot.moved.set(side, lot.moved.get(side)! - was!.quantity);
  }

  private async finish(recipe: Recipe, batch: { id: number; code: string }, weighed: readonly Weighed[]) {
    const isMg = (item: string) => this.shop.measures.get(item) === 'weighed';
    const leftovers = weighed
      .filter(({ item, sum, reworkLotId }) => isMg(item) && sum > 3 && reworkLotId === null && this.pick(4) === 0)
      .map((input) => ({ input, quantity: 1 + this.pick(input.sum - 2) }));
    const inMg = weighed.reduce((sum, input) => sum + (isMg(input.item) ? input.sum : 0), 0);
    const leftMg = leftovers.reduce((sum, { quantity }) => sum + quantity, 0);
    const usedMg = inMg - leftMg;
    const made = recipe.measure === 'weighed' ? Math.max(1, usedMg - this.pick(3)) : 1 + this.pick(40);
    const madeMg = recipe.measure === 'weighed' ? made : usedMg;
    await this.database.query(
      `insert into batch_finish (batch_id, finished_on, put_in_mg, unbooked_mg, made, made_mg, left_mg, loss_mg,
         expected_loss_mg, minutes, labour_e4, inputs_e4, lost_e4) values ($1, $2, $3, 0, $4, $5, $6, $7, 0, 0, 0, 0, 0)`,
      [batch.id, this.day, inMg, made, madeMg, leftMg, usedMg - madeMg],
    );
    const sources = weighed.flatMap(({ lots }) => lots);
    const lot = await this.newLot(recipe.item, sources, { status: 'quarantine', batchId: batch.id });
    await this.move(lot, 'production', made, { batch_id: batch.id });
    await this.output(batch, lot, 'made', null, made);
    this.cameOf(lot, batch, weighed);
    for (const { input, quantity } of leftovers) {
      const rest = await this.newLot(input.item, input.lots, { batchId: batch.id });
      await this.move(rest, 'production', quantity, { batch_id: batch.id });
      await this.output(batch, rest, 'leftover', input.inputId, quantity);
      this.cameOf(rest, batch, [input]);
      this.count('leftover');
    }
    for (const status of ['weighed', 'resting', 'released'])
      await this.database.query('update batch set status = $2 where id = $1', [batch.id, status]);
    await this.database.query(`update lot set status = 'released' where id = $1`, [lot.id]);
  }

  private async output(
    batch: { id: number; code: string },
    lot: KnownLot,
    kind: string,
    inputId: number | null,
    quantity: number,
  ): Promise<void> {
    await this.database.query(
      'insert into batch_output (batch_id, lot_id, kind, batch_input_id) values ($1, $2, $3, $4)',
      [batch.id, lot.id, kind, inputId],
    );
    this.link(`batch:${batch.code}`, `lot:${lot.code}`, quantity);
  }

  private async ship(): Promise<void> {
    const lot = this.any(SOLD.flatMap((item) => this.available(item)));
    if (!lot) return;
    const line = this.any(this.shop.lines.filter(({ item }) => item === lot.item))!;
    const quantity = 1 + this.pick(lot.left);
    const shipment = await this.one('insert into shipment (order_id, shipped_on) values ($1, $2) returning id', [
      line.orderId,
      this.day,
    ]);
    const rest = { order_line_id: line.id, shipment_id: shipment };
    const movement = await this.move(lot, 'shipment', -quantity, rest);
    if (this.pick(6) === 0) {
      await this.correct(lot, movement);
      this.count('shipment taken back');
      return;
    }
    const sent = this.known.sent.get(lot.code) ?? new Map<string, number>();
    sent.set(line.order, (sent.get(line.order) ?? 0) + quantity);
    this.known.sent.set(lot.code, sent);
    this.link(`lot:${lot.code}`, `order:${line.order}`, quantity);
    this.count('shipment');
  }

  private async takeBack(): Promise<void> {
    const from = this.any(
      [...this.known.sent].filter(([lot, sent]) => [...sent.values()].some((q) => q > 0) && this.known.lots.has(lot)),
    );
    if (!from) return;
    const parent = this.known.lots.get(from[0])!;
    const order = this.any([...from[1].keys()])!;
    const key = `${parent.code} ${order}`;
    const out = from[1].get(order)! - (this.known.returned.get(key) ?? 0);
    if (out <= 0) return;
    const quantity = 1 + this.pick(out);
    const line = this.shop.lines.find((row) => row.order === order && row.item === parent.item)!;
    const lot = await this.newLot(parent.item, [parent], { status: 'held', parentId: parent.id });
    await this.move(lot, 'return', quantity, { order_line_id: line.id });
    this.known.returned.set(key, (this.known.returned.get(key) ?? 0) + quantity);
    this.link(`lot:${parent.code}`, `lot:${lot.code}`, quantity);
    if (this.pick(2) === 0) {
      await this.database.query(`update lot set status = 'released' where id = $1`, [lot.id]);
      lot.status = 'released';
    }
    this.count('return');
  }

  private async split(): Promise<void> {
    const parent = this.any(
      [...this.known.lots.values()].filter(({ left, status }) => left > 1 && status === 'released'),
    );
    if (!parent) return;
    const quantity = 1 + this.pick(parent.left - 1);
    const isUndone = this.pick(4) === 0;
    const lot = await this.newLot(parent.item, isUndone ? [] : [parent], { parentId: parent.id });
    const out = await this.move(parent, 'split', -quantity, { other_lot_id: lot.id });
    const into = await this.move(lot, 'split', quantity, { other_lot_id: parent.id });
    if (isUndone) {
      await this.correct(lot, into);
      await this.correct(parent, out);
      this.count('split taken back');
      return;
    }
    this.link(`lot:${parent.code}`, `lot:${lot.code}`, quantity);
    this.count('split');
  }

  private async hold(): Promise<void> {
    const lot = this.any([...this.known.lots.values()].filter(({ status }) => status !== 'rejected'));
    if (!lot) return;
    lot.status = lot.status === 'held' ? 'released' : 'held';
    await this.database.query('update lot set status = $2 where id = $1', [lot.id, lot.status]);
    this.count('hold');
  }

  private async takeAway(): Promise<void> {
    const lot = this.any([...this.known.lots.values()].filter(({ left }) => left > 0));
    if (!lot) return;
    await this.move(lot, this.any(['sample', 'scrap', 'count'])!, -1);
    this.count('taken away');
  }

  /** A batch that is closed takes what came of itself: the database must refuse it. */
  private async tryLoop(): Promise<void> {
    const rows = await this.database.query<{ code: string; batchId: number; inputId: number }>(
      `select l.code, o.batch_id as "batchId", i.id as "inputId" from batch_output o join lot l on l.id = o.lot_id
         join batch_input i on i.batch_id = o.batch_id and i.item_id = l.item_id
       where l.status = 'released' and l.on_hand > 0 order by l.id`,
    );
    const chosen = this.any(rows);
    if (!chosen) return;
    const rest = { batch_id: chosen.batchId, batch_input_id: chosen.inputId };
    const lot = this.known.lots.get(chosen.code)!;
    const refused = await this.move(lot, 'consumption', -1, rest).then(
      () => undefined,
      (error: { code?: string }) => error.code,
    );
    if (refused !== 'LW004') throw new Error(`a batch took what came of itself: ${chosen.code}`);
    this.count('loop refused');
  }
}
