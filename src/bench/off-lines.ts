import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { goodRange, offBy, toleranceOf } from '../kernel/bench/good-range.js';
import { besideTarget, goodText } from '../ui/good-range.js';
import type { BatchRecord } from './record.schema.js';

type Line = BatchRecord['lines'][number];
/** `closed`: nothing more goes in. */
export type ReadLine = Omit<Line, 'tolerance' | 'isOff'> & { closed: boolean };

export interface JudgedLines {
  lines: Line[];
  /** One for each line that is off, by whoever brought it there. */
  deviations: BatchRecord['deviations'];
}

/** What of a batch's lines departs from its target, above what is good, or below it where nothing more goes in. */
export async function judgedLines(tx: EntityManager, read: readonly ReadLine[]): Promise<JudgedLines> {
  const rules = await workshopOf(tx);
  const judged = read.map(({ closed, ...line }) => {
    const tolerance = toleranceOf(line.target, line.measure, rules);
    const good = goodRange(line.target, tolerance, rules.scaleStepMg);
    const standing = line.entries.filter(({ takenBack }) => takenBack === null);
    // of what is in no lot, nothing written down counts as planned
    const isJudged = standing.length > 0 && (line.stocked || line.weighed > 0);
    const off = isJudged ? offBy(line.weighed, line.target, good) : 0;
    const isOff = off > 0 || (off < 0 && closed);
    const deviation = () => {
      const range = goodText(good, line.target, line.measure, rules.scaleStepMg);
      const { by, at } = lastOf(standing, off > 0 ? good.most : Infinity);
      return { note: `${offText(line, off)}; ${range}`, position: line.position, targets: [], by, at };
    };
    return { line: { ...line, tolerance, isOff }, deviations: isOff ? [deviation()] : [] };
  });
  return { lines: judged.map(({ line }) => line), deviations: judged.flatMap(({ deviations }) => deviations) };
}

function offText({ name, measure, weighed, target }: Omit<ReadLine, 'closed'>, off: number): string {
  const [is, by] = [weighed, Math.abs(off)].map((one) => besideTarget(one, target, measure));
  return `${is} of ${name} went in instead of ${besideTarget(target, target, measure)}, ${by} too ${off > 0 ? 'much' : 'little'}`;
}

/** The entry that went past `most`, else the last. */
function lastOf(entries: Line['entries'], most: number): Line['entries'][number] {
  let sum = 0;
  for (const entry of entries) {
    sum += entry.quantity;
    if (sum > most) return entry;
  }
  return entries.at(-1)!;
}
