/** The same figures each time, whole and below `below`: xorshift32 (Marsaglia, Xorshift RNGs, 2003, triple 13, 17, 5). */
export class Figures {
  private state: number;

  constructor(series = 0) {
    this.state = 0x9e3779b9 ^ Math.imul(series, 0x85ebca6b);
  }

  below(below: number): number {
    let x = this.state;
    x ^= x << 13;
    x ^= x >>> 17;
    x ^= x << 5;
    this.state = x;
    return (x >>> 0) % below;
  }
}
