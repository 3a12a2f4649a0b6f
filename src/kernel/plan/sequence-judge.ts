import type { Day } from '../measure/day.js';
import type { Pour, Waiting, WaitingLine } from './sequence-chains.js';
import { type LineCosts, ServiceSum } from './service.js';
import { inOrder, type Service, type Term } from './terms.js';

const FOREVER = Number.POSITIVE_INFINITY;
const NOT_BEGUN = Number.NEGATIVE_INFINITY;

/** What orders of pours cost, each of which takes the vessel that is free first. */
export class Judge {
  private readonly terms: readonly Term[];
  private readonly begun: Day[];
  private readonly begunInKept: Day[];
  /** Whether anything waits for more than one pour. */
  private readonly isChained: boolean;
  /** Lines that wait for one pour only, by its place; and for more. */
  private readonly linesOf: WaitingLine[][];
  private readonly linesOfMore: WaitingLine[];
  /** Of the order that is kept: on which day each vessel is free, and what lines cost, before each of its places. */
  private readonly freeAt: Day[][];
  private readonly costAt: LineCosts[];
  /** What counts most of what that order costs, and how much it is. */
  private leading: Term;
  private leads = FOREVER;

  constructor(
    { vessels, start, others, terms }: Waiting,
    private readonly pours: readonly Pour[],
    lines: readonly WaitingLine[],
  ) {
    this.terms = terms;
    this.leading = terms[0]!;
    // Stryker disable next-line ArrowFunction: each run begins with it
    this.begun = pours.map(() => NOT_BEGUN);
    // Stryker disable next-line ArrayDeclaration: what is kept first fills it
    this.begunInKept = [...this.begun];
    this.linesOf = pours.map(() => []);
    for (const line of lines) if (line.after.length === 1) this.linesOf[line.after[0]!.pour]!.push(line);
    this.linesOfMore = lines.filter(({ after }) => after.length !== 1);
    // Stryker disable next-line all: where nothing is chained, what is put back is not looked at
    this.isChained = this.linesOfMore.length > 0 || pours.some(({ after }) => after.length > 0);
    this.freeAt = [vessels.map(({ busy }) => Math.max(start, ...busy.map(({ to }) => to + 1)))];
    this.costAt = [others];
  }

  /** So that orders which are the same up to some place are judged from there. `cost` is what it costs. */
  keep(order: readonly number[], cost: Service): void {
    const at = cost.findIndex((value) => value > 0);
    this.leading = this.terms[Math.max(0, at)]!;
    this.leads = FOREVER;
    this.run(order, 0, true);
    this.leads = cost[Math.max(0, at)]!;
  }

  /** Of any order, whatever is kept. */
  costOfAny(order: readonly number[]): Service | null {
    this.leads = FOREVER;
    return this.costOf(order, 0);
  }

  /**
   * Of an order that is as the one kept before the place `from`. Null where a pour comes before what it is made of, or where
   * it costs more than the one kept.
   */
  costOf(order: readonly number[], from: number): Service | null {
    const sum = this.run(order, from, false);
    if (sum === null) return null;
    for (const { line, share, ready, after } of this.linesOfMore) {
      let last = ready;
      for (const { pour, days } of after) last = Math.max(last, this.begun[pour]! + days);
      sum.add(line, dayOrNone(last), share);
    }
    return inOrder(sum.sum, this.terms);
  }

  private run(order: readonly number[], from: number, isKept: boolean): ServiceSum | null {
    const { begun, freeAt, costAt, pours } = this;
    const free = [...freeAt[from]!];
    // what was tried meanwhile began on other days
    // Stryker disable next-line ConditionalExpression: where nothing is chained nobody looks at it
    if (this.isChained)
      // Stryker disable next-line EqualityOperator: the place itself is begun anew
      for (let at = 0; at < from; at++) begun[order[at]!] = this.begunInKept[order[at]!]!;
    const sum = new ServiceSum(costAt[from]);
    for (let at = from; at < order.length; at++) begun[order[at]!] = NOT_BEGUN;
    for (let at = from; at < order.length; at++) {
      if (isKept) {
        freeAt[at] = [...free];
        costAt[at] = { ...sum.sum };
      }
      const place = order[at]!;
      const pour = pours[place]!;
      const day = this.begin(pour, free);
      if (day === NOT_BEGUN) return null;
      begun[place] = day;
      if (isKept) this.begunInKept[place] = day;
      const lines = this.linesOf[place]!;
      for (let i = 0; i < lines.length; i++) {
        const { line, share, ready, after } = lines[i]!;
        sum.add(line, dayOrNone(Math.max(ready, day + after[0]!.days)), share);
      }
      if (sum.sum[this.leading as keyof LineCosts] > this.leads) return null;
    }
    return sum;
  }

  /** The day a pour begins, whose vessel is then taken; none where it comes before what it is made of. */
  private begin({ earliest, days: kept, vessels, after }: Pour, free: Day[]): Day {
    let vessel = vessels[0];
    for (let i = 1; i < vessels.length; i++) if (free[vessels[i]!]! < free[vessel!]!) vessel = vessels[i];
    let day = vessel === undefined ? FOREVER : Math.max(earliest, free[vessel]!);
    for (let i = 0; i < after.length; i++) {
      const { pour, days } = after[i]!;
      if (this.begun[pour] === NOT_BEGUN) return NOT_BEGUN;
      day = Math.max(day, this.begun[pour]! + days);
    }
    if (vessel !== undefined) free[vessel] = day + kept;
    return day;
  }
}

const dayOrNone = (day: Day): Day | null => (day === FOREVER ? null : day);
