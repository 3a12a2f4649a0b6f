import { byText } from '../measure/text-order.js';
import type { Job } from './job.js';
import { type Model, smallestBatch } from './model.js';
import type { Learned, SizeChoice } from './netting.js';
import type { PlanChoices } from './proposal.js';
import type { Guide, Pin, Placed } from './schedule-job.js';
import { placeOf, type Shown, type ShownPours } from './shown.js';
import type { Costs } from './terms.js';

/** How a plan was made, to be kept with it; nothing where that is as usual. */
export function choicesOf({ sizes, later }: Learned): { choices?: PlanChoices } {
  if (sizes.size + later.size === 0) return {};
  const most = (size: number): number | null => (Number.isFinite(size) ? size : null);
  return {
    choices: {
      sizes: [...sizes].map(([item, size]) => ({ item, ...size, most: most(size.most) })),
      later: [...later].sort(byText),
    },
  };
}

/** What was chosen for the plan last shown, as far as it can be chosen still; null where that was all as usual. */
export function choicesShown({ shown: { choices }, items }: Model): Pick<Learned, 'sizes' | 'later'> | null {
  if (!choices) return null;
  const sizes = new Map<string, SizeChoice>();
  for (const { item: code, ...size } of choices.sizes) {
    const item = items.get(code);
    if (!item?.formula) continue;
    const most = Math.min(size.most ?? Number.POSITIVE_INFINITY, item.largestBatch);
    if (most >= smallestBatch(item)) sizes.set(code, { ...size, most });
  }
  return { sizes, later: new Set(choices.later) };
}

/** What was shown stays where it was, and takes its room first; all else as it is due. Null where nothing was shown. */
export function guideAsShown({ ofItem }: ShownPours, jobs: readonly Job[], asDue: Guide): Guide | null {
  if (ofItem.size === 0) return null;
  const pins = pinsFrom(ofItem, jobs);
  const pinned = asDue.order.filter((job) => pins[job]).sort((a, b) => pins[a]!.day - pins[b]!.day);
  return { ...asDue, pins, order: [...pinned, ...asDue.order.filter((job) => !pins[job])] };
}

/**
 * Where each batch was shown: of one item those of the same amount, first by what they were called, and then the others in the
 * order in which they are due. Null for what is new.
 */
function pinsFrom(ofItem: ShownPours['ofItem'], jobs: readonly Job[]): (Pin | null)[] {
  const pins: (Pin | null)[] = jobs.map(() => null);
  const left = new Map([...ofItem].map(([item, pours]) => [item, [...pours]]));
  const byDue = jobs.map((_, place) => place).sort((a, b) => jobs[a]!.latest - jobs[b]!.latest || a - b);
  const pinWhere = (isMeant: (shown: Shown, job: Job) => boolean): void => {
    for (const place of byDue) {
      const job = jobs[place]!;
      const pours = left.get(job.item.code) ?? [];
      const found = pins[place] ? -1 : pours.findIndex((shown) => isMeant(shown, job));
      if (found !== -1) pins[place] = pours.splice(found, 1)[0]!;
    }
  };
  pinWhere((shown, job) => shown.key === job.key && shown.output === job.output);
  pinWhere((shown, job) => shown.output === job.output);
  pinWhere(() => true);
  return pins;
}

/** Pours that were shown and are elsewhere now, or nowhere. */
export function movedFrom(
  { shown: { at } }: { shown: ShownPours },
  placed: Iterable<readonly [Job, Placed]>,
): Pick<Costs, 'movedSoon' | 'moved'> {
  const sum = { movedSoon: 0, moved: 0 };
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (at.size === 0) return sum;
  const stays = new Map<string, number>();
  for (const [{ item }, { day, vessel }] of placed) {
    // Stryker disable next-line ConditionalExpression: on no day nothing was shown
    if (day === null) continue;
    const place = placeOf(item.code, day, vessel);
    stays.set(place, (stays.get(place) ?? 0) + 1);
  }
  for (const [place, { pours, isSoon }] of at) {
    const moved = Math.max(0, pours - (stays.get(place) ?? 0));
    sum.moved += moved;
    if (isSoon) sum.movedSoon += moved;
  }
  return sum;
}
