/**
 * What the ledger should do, as plain objects: what is on hand and what it is worth, what is set aside for whom, and
 * what each act makes of it. It knows nothing of the code it is compared with. A refused act answers the code of the
 * refusal and changes nothing.
 */

export interface ModelLot {
  code: string;
  onHand: number;
  valueE4: number;
  status: 'released' | 'held' | 'rejected';
}

/** An order line or an input of a batch: both lack a quantity until it is shipped or weighed. */
export interface ModelTarget {
  quantity: number;
  done: number;
  needOn: string;
}

export interface ModelPromise {
  id: number;
  lot: ModelLot;
  target: ModelTarget;
  open: number;
}

/** Of one lot, shipped for one line and not back yet. */
interface Out {
  lot: ModelLot;
  line: ModelTarget;
  quantity: number;
  valueE4: number;
}

export const OK = 'ok';

const STATUS_CHANGES = ['released held', 'held released', 'held rejected'];

export class LedgerModel {
  readonly lots: ModelLot[] = [];
  readonly promises: ModelPromise[] = [];
  /** Everything shipped, by line and lot. */
  readonly outs: Out[] = [];

  receive(code: string, quantity: number, valueE4: number): void {
    this.lots.push({ code, onHand: quantity, valueE4, status: 'released' });
  }

  reserved(lot: ModelLot): number {
    return sum(this.promises.filter((promise) => promise.lot === lot));
  }

  free(lot: ModelLot): number {
    return lot.onHand - this.reserved(lot);
  }

  /** `id` is what the server answered; the model only decides whether it may. */
  setAside(lot: ModelLot, target: ModelTarget, quantity: number): string {
    const lacking = target.quantity - target.done - sum(this.promises.filter((one) => one.target === target));
    if (quantity > Math.max(0, lacking)) return 'not-needed';
    if (lot.status !== 'released') return 'lot-not-released';
    return quantity > this.free(lot) ? 'not-enough' : OK;
  }

  promise(id: number, lot: ModelLot, target: ModelTarget, open: number): void {
    this.promises.push({ id, lot, target, open });
  }

  giveBack(promise: ModelPromise, quantity: number): string {
    if (promise.open === 0 || quantity > promise.open) return 'not-open';
    promise.open -= quantity;
    return OK;
  }

  /** What is gone from the shelf: scrap, a sample. Answers what left with it. */
  issue(lot: ModelLot, quantity: number): { code: string; valueE4: number } {
    if (quantity > lot.onHand) return { code: 'not-enough', valueE4: 0 };
    this.freeLatest(lot, quantity - this.free(lot));
    return { code: OK, valueE4: take(lot, quantity) };
  }

  /** Takes the last issue back: what it freed stays free. */
  takeBackIssue(lot: ModelLot, quantity: number, valueE4: number): void {
    lot.onHand += quantity;
    lot.valueE4 += valueE4;
  }

  count(lot: ModelLot, counted: number): void {
    const loss = lot.onHand - counted;
    if (loss > 0) this.issue(lot, loss);
    else lot.onHand = counted;
  }

  changeStatus(lot: ModelLot, to: ModelLot['status']): string {
    if (lot.status === to) return 'already-so';
    if (!STATUS_CHANGES.includes(`${lot.status} ${to}`)) return 'wrong-state';
    lot.status = to;
    if (to !== 'released') this.freeLatest(lot, this.reserved(lot));
    return OK;
  }

  /** `code` is what the server called the part. */
  split(lot: ModelLot, quantity: number, status: ModelLot['status'], code: () => string): string {
    const left = this.issue(lot, quantity);
    if (left.code === OK) this.lots.push({ code: code(), onHand: quantity, valueE4: left.valueE4, status });
    return left.code;
  }

  ship(line: ModelTarget, lot: ModelLot, quantity: number): string {
    if (line.done === line.quantity) return 'wrong-state';
    if (lot.status !== 'released') return 'lot-not-released';
    if (quantity > line.quantity - line.done) return 'not-open';
    const own = this.promises.filter((promise) => promise.lot === lot && promise.target === line);
    if (quantity > sum(own) + this.free(lot)) return 'not-enough';
    const valueE4 = this.takePromised(lot, own, quantity);
    line.done += quantity;
    this.freeExcess(line);
    const out = this.outs.find((one) => one.lot === lot && one.line === line);
    if (!out) this.outs.push({ lot, line, quantity, valueE4 });
    else Object.assign(out, { quantity: out.quantity + quantity, valueE4: out.valueE4 + valueE4 });
    return OK;
  }

  takeBack(line: ModelTarget, lot: ModelLot, quantity: number, code: () => string): string {
    const out = this.outs.find((one) => one.lot === lot && one.line === line);
    if (!out || quantity > out.quantity) return 'not-shipped';
    const valueE4 = quantity === out.quantity ? out.valueE4 : Math.floor((out.valueE4 * quantity) / out.quantity);
    out.quantity -= quantity;
    out.valueE4 -= valueE4;
    this.lots.push({ code: code(), onHand: quantity, valueE4, status: 'held' });
    return OK;
  }

  /** `isFound`: it was said that more than the book holds was there. */
  weigh(input: ModelTarget, lot: ModelLot, quantity: number, isFound: boolean): string {
    if (lot.status !== 'released') return 'lot-not-released';
    if (quantity > lot.onHand && !isFound) return 'more-than-booked';
    lot.onHand = Math.max(lot.onHand, quantity);
    const own = this.promises.filter((promise) => promise.lot === lot && promise.target === input);
    this.freeLatest(lot, quantity - Math.min(quantity, sum(own)) - this.free(lot), input);
    this.takePromised(lot, own, quantity);
    input.done += quantity;
    this.freeExcess(input);
    return OK;
  }

  /** Uses these promises by need day, then id, and then what is free; each part leaves with its own value. */
  private takePromised(lot: ModelLot, own: ModelPromise[], quantity: number): number {
    let left = quantity;
    let valueE4 = 0;
    for (const promise of own.sort(byNeed)) {
      const part = Math.min(left, promise.open);
      if (part === 0) continue;
      promise.open -= part;
      valueE4 += take(lot, part);
      left -= part;
    }
    return left > 0 ? valueE4 + take(lot, left) : valueE4;
  }

  private freeLatest(lot: ModelLot, amount: number, kept?: ModelTarget): void {
    let left = Math.max(0, amount);
    const latestFirst = this.promises.filter((one) => one.lot === lot && one.target !== kept).sort(byNeed);
    for (const promise of latestFirst.reverse()) {
      const part = Math.min(left, promise.open);
      promise.open -= part;
      left -= part;
    }
  }

  /** What is set aside past what the target still lacks goes back, the latest first. */
  private freeExcess(target: ModelTarget): void {
    let kept = Math.max(0, target.quantity - target.done);
    for (const promise of this.promises.filter((one) => one.target === target).sort(byNeed)) {
      promise.open = Math.min(promise.open, kept);
      kept -= promise.open;
    }
  }
}

/** The share of the value that leaves, rounded down; the last of the lot takes the rest. */
function take(lot: ModelLot, quantity: number): number {
  const valueE4 = quantity === lot.onHand ? lot.valueE4 : Math.floor((lot.valueE4 * quantity) / lot.onHand);
  lot.onHand -= quantity;
  lot.valueE4 -= valueE4;
  return valueE4;
}

const sum = (promises: readonly ModelPromise[]): number => promises.reduce((total, { open }) => total + open, 0);

const byNeed = (a: ModelPromise, b: ModelPromise): number =>
  a.target.needOn < b.target.needOn ? -1 : a.target.needOn > b.target.needOn ? 1 : a.id - b.id;
