import highsModule from 'highs';

/*
 * Mixed-integer programmes for HiGHS (University of Edinburgh, MIT licence), npm package highs 1.15.3.
 */
// its types describe the CommonJS build, whose default lies one level down; what is imported is the function itself
const highs = await (highsModule as unknown as typeof highsModule.default)();

/** A variable by its number in its programme. */
export type Var = number & { readonly of: 'mip' };
export type Term = readonly [coefficient: number, variable: Var];

interface Bounds {
  low: number;
  high: number;
  isWhole: boolean;
}

export interface Optimum {
  /** What the terms to be made least come to. */
  value: number;
  of: (variable: Var) => number;
}

/** No optimum was proven within the time given, so nothing may be said. */
export class Unproven extends Error {}

/** A programme that is written down row by row and then solved to proven optimality. */
export class Mip {
  private readonly variables: Bounds[] = [];
  private readonly rows: string[] = [];

  real(low: number, high: number): Var {
    return this.add({ low, high, isWhole: false });
  }

  whole(low: number, high: number): Var {
    return this.add({ low, high, isWhole: true });
  }

  yesNo(): Var {
    return this.whole(0, 1);
  }

  row(terms: readonly Term[], sign: '<=' | '>=' | '=', right: number): void {
    const merged = mergedOf(terms);
    if (merged.length > 0) this.rows.push(`r${this.rows.length}: ${text(merged)} ${sign} ${right}`);
    else if (!holds(0, sign, right)) throw new RangeError(`0 ${sign} ${right} cannot hold`);
  }

  /**
   * The least value of `terms`, which must be whole in every solution: a solution is proven once nothing can be less by
   * one. Null where nothing satisfies the rows. Throws Unproven after `seconds`.
   */
  least(terms: readonly Term[], seconds = 600): Optimum | null {
    const solution = highs.solve(this.textFor(terms), {
      mip_rel_gap: 0,
      mip_abs_gap: 0.9,
      mip_feasibility_tolerance: 1e-7,
      time_limit: seconds,
    });
    if (solution.Status === 'Infeasible') return null;
    if (solution.Status !== 'Optimal') throw new Unproven(solution.Status);
    const valueOf = (variable: Var): number => {
      const column = solution.Columns[`v${variable}`];
      return column && 'Primal' in column ? (column.Primal ?? 0) : 0;
    };
    const value = mergedOf(terms).reduce((sum, [coefficient, variable]) => sum + coefficient * valueOf(variable), 0);
    return { value: Math.round(value), of: valueOf };
  }

  private add(bounds: Bounds): Var {
    return (this.variables.push(bounds) - 1) as Var;
  }

  private textFor(terms: readonly Term[]): string {
    const all = this.variables.map((bounds, index) => ({ name: `v${index}`, ...bounds }));
    const merged = mergedOf(terms);
    return [
      'Minimize',
      `cost: ${merged.length > 0 ? text(merged) : '0 v0'}`,
      'Subject To',
      ...this.rows,
      'Bounds',
      ...all.map(({ name, low, high }) => `${low} <= ${name} <= ${high}`),
      'General',
      ...all.filter(({ isWhole }) => isWhole).map(({ name }) => name),
      'End',
    ].join('\n');
  }
}

const text = (terms: readonly Term[]): string =>
  terms.map(([by, variable]) => `${by < 0 ? '-' : '+'} ${Math.abs(by)} v${variable}`).join(' ');

function mergedOf(terms: readonly Term[]): Term[] {
  const sums = new Map<Var, number>();
  for (const [by, variable] of terms) sums.set(variable, (sums.get(variable) ?? 0) + by);
  return [...sums].filter(([, by]) => by !== 0).map(([variable, by]) => [by, variable]);
}

const holds = (left: number, sign: '<=' | '>=' | '=', right: number): boolean =>
  sign === '=' ? left === right : sign === '<=' ? left <= right : left >= right;
