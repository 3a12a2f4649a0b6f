import type { Shape } from './forecast.js';
import type { Service } from './reorder-point.js';
import { crossing } from '../statistics/crossing.js';
import { gammaAbove, gammaSecondLoss } from '../statistics/gamma.js';

/** How an item that is used now and then is bought. Days are from ordering. */
export interface RareUse {
  shape: Pick<Shape, 'intervalWeeks' | 'sizeVariation' | 'uses' | 'rateError'>;
  /** Expected use of a day. */
  perDay: number;
  /** Until an order can be used, and how far that strays. */
  delayDays: number;
  leadDeviationDays: number;
  /** Until the next look. */
  reviewDays: number;
  /** How far an order may reach beyond what brings it up to the level: the larger, the less has to be kept. */
  step: number;
}

/** What so many uses together take, with the chance of just so many: a gamma distribution. */
interface Uses {
  chance: number;
  mean: number;
  deviation: number;
}

const WEEK_DAYS = 7;
/** Sizes that are as uneven as exponential ones count as much as so many that were seen. */
const UNEVEN_COUNTS_AS = 10;
const BISECTIONS = 26;
const UNSEEN = 1e-7;
const USES_MAX = 1_000;

/**
 * The level free and coming stock is to be brought up to, not whole, so that the wanted service is given.
 *
 * What is used within some days is taken for a compound Poisson distribution: how often by the weeks with use, how much each
 * time by a gamma distribution. What else strays, the lead time and the estimate of the rate itself, is added to the sizes.
 * `fill-rate`: with stock brought up to anywhere between the level and a step above it, what runs short between the day an
 * order can be used and the day the next look's can is, in the mean, no more of a review's use than the share allows. This is exact for
 * orders in steps: G. Hadley & T. M. Whitin 1963, chapter 5 (from memory). `cycle`: nothing runs short until then.
 */
export function rareLevel(service: Service, known: RareUse): number {
  const { perDay, delayDays, reviewDays, step } = known;
  const before = usesWithin(known, delayDays);
  const until = usesWithin(known, delayDays + reviewDays);
  const mean = perDay * (delayDays + reviewDays);
  if (service.kind === 'cycle')
    return crossing(mean, BISECTIONS, (level) => 1 - service.share - aboveOf(until, level)).high;
  const most = (1 - service.share) * perDay * reviewDays;
  const lost = (uses: readonly Uses[], level: number): number =>
    secondLoss(uses, level) - secondLoss(uses, level + step);
  return crossing(mean, BISECTIONS, (level) => most - (lost(until, level) - lost(before, level)) / step).high;
}

/** Chances and amounts of one, two, three ... uses within so many days; what is left to 1 is the chance of none. */
function usesWithin({ shape, perDay, leadDeviationDays }: RareUse, days: number): Uses[] {
  const perWeek = -Math.log(1 - 1 / shape.intervalWeeks);
  const times = (perWeek * days) / WEEK_DAYS;
  if (times <= 0) return [];
  const size = (perDay * days) / times;
  const elsewhere = (perDay * leadDeviationDays) ** 2 + (perDay * days * shape.rateError) ** 2;
  const deviation = Math.sqrt(unevenness(shape, perWeek) * size ** 2 + elsewhere / times);
  const uses: Uses[] = [];
  let chance = Math.exp(-times);
  let seen = chance;
  for (let count = 1; seen < 1 - UNSEEN && count <= USES_MAX; count++) {
    chance *= times / count;
    seen += chance;
    uses.push({ chance, mean: count * size, deviation: Math.sqrt(count) * deviation });
  }
  return uses;
}

/** Squared variation of the size of one use, of which a week may have several: by that of weeks, and the fewer were seen the nearer to 1. */
function unevenness({ intervalWeeks, sizeVariation, uses }: RareUse['shape'], perWeek: number): number {
  const seen = Math.max(0, perWeek * ((1 + sizeVariation) * intervalWeeks - 1) - 1);
  return (uses * seen + UNEVEN_COUNTS_AS) / (uses + UNEVEN_COUNTS_AS);
}

const aboveOf = (uses: readonly Uses[], level: number): number =>
  uses.reduce(
    (sum, { chance, mean, deviation }) =>
      sum + chance * gammaAbove(level / (deviation ** 2 / mean), (mean / deviation) ** 2),
    0,
  );

function secondLoss(uses: readonly Uses[], level: number): number {
  let sum = 0;
  for (const { chance, mean, deviation } of uses) sum += chance * gammaSecondLoss(level, mean, deviation);
  return sum;
}
