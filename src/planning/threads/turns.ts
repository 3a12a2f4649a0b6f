/** Lets so many works go on at once; who comes later waits until one of them is over, in the order they came. */
export class Turns {
  private readonly waiting: (() => void)[] = [];

  constructor(private free: number) {}

  async take<T>(work: () => Promise<T>): Promise<T> {
    if (this.free > 0) this.free--;
    else await new Promise<void>((resolve) => this.waiting.push(resolve));
    try {
      return await work();
    } finally {
      const next = this.waiting.shift();
      if (next) next();
      else this.free++;
    }
  }
}
