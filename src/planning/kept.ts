/**
 * SQL for the version of a row of `run`: another one as soon as anything of the row is written, so that what was read of
 * one version can be kept. PostgreSQL's own marks of the row, and when the server began to count.
 */
export const RUN_VERSION = `run.id || ' ' || run.xmin || ' ' || run.ctid || ' ' || pg_postmaster_start_time()`;

/** Keeps the last few values by what identifies them; the one kept longest goes first. */
export class Kept<Value> {
  private readonly values = new Map<string, Value>();

  constructor(private readonly most: number) {}

  get(key: string): Value | undefined {
    return this.values.get(key);
  }

  /** Answers the value. */
  put(key: string, value: Value): Value {
    if (this.values.size >= this.most) this.values.delete(this.values.keys().next().value!);
    this.values.set(key, value);
    return value;
  }
}
