import { describe, expect, it } from 'vitest';
import { choicesOf, choicesShown, guideAsShown, movedFrom } from '../../src/kernel/plan/as-shown.js';
import type { Job } from '../../src/kernel/plan/job.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { NOTHING_LEARNED } from '../../src/kernel/plan/netting.js';
import type { Guide, Placed } from '../../src/kernel/plan/schedule-job.js';
import { shownOf } from '../../src/kernel/plan/shown.js';
import type { PlanChoices } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotPour } from '../../src/kernel/plan/snapshot.js';
import { dayOf } from '../../src/kernel/measure/day.js';
import { bulk, counted, day, lot, openShop, ordered } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const TODAY = dayOf(day(0));
const always = () => 480;
const pour = (key: string, on: number, output = 1, vessel: string | null = null): SnapshotPour => ({
  key,
  item: key.split('/')[0]!,
  day: day(on),
  vessel,
  output,
});
/** `start`: the first day of the plan, from today. */
const shown = (pours: SnapshotPour[], openMinutes: (on: number) => number = always, start = 0) =>
  shownOf({ shown: { pours } } as unknown as Snapshot, { today: TODAY, start: TODAY + start, openMinutes });

describe('what was shown', () => {
  it('is of the days of the plan, the first first, and by what pours were called', () => {
    const { ofItem, choices } = shown(
      [pour('A/3', 4), pour('B/1', 0), pour('A/2', 4), pour('A/1', 2), pour('A/9', 1)],
      always,
      2,
    );
    expect([...ofItem.keys()]).toEqual(['A']);
    expect(ofItem.get('A')!.map(({ key, day: on }) => `${key} ${on - TODAY}`)).toEqual(['A/1 2', 'A/2 4', 'A/3 4']);
    expect(choices).toBeNull();
    expect(shownOf({} as Snapshot, { today: TODAY, start: TODAY, openMinutes: always }).ofItem.size).toBe(0);
  });

  it('is soon today and until the next open day, however long that is closed', () => {
    const soon = (openMinutes: (on: number) => number): number[] =>
      [0, 1, 2, 3, 4, 40].filter((on) => [...shown([pour('A/1', on)], openMinutes).at.values()][0]!.isSoon);
    expect(soon(always)).toEqual([0, 1]);
    expect(soon((on) => (on - TODAY >= 3 ? 60 : 0))).toEqual([0, 1, 2, 3]);
    expect(soon(() => 0)).toEqual([0, 1, 2, 3, 4]);
  });
});

describe('pours that move', () => {
  const moved = (pours: SnapshotPour[], now: [item: string, on: number | null, vessel?: string][]) =>
    movedFrom(
      { shown: shown(pours) },
      now.map(([code, on, vessel = null]) => [
        { item: { code } } as Job,
        { day: on === null ? null : TODAY + on, vessel } as Placed,
      ]),
    );

  it('are those of whose item none is on that day in that vessel now, each counted for one', () => {
    expect(moved([], [['A', 3]])).toEqual({ movedSoon: 0, moved: 0 });
    expect(moved([pour('A/1', 3)], [['A', 3]])).toEqual({ movedSoon: 0, moved: 0 });
    expect(moved([pour('A/1', 3)], [['A', 4]])).toEqual({ movedSoon: 0, moved: 1 });
    expect(moved([pour('A/1', 3)], [['B', 3]])).toEqual({ movedSoon: 0, moved: 1 });
    expect(moved([pour('A/1', 3, 1, 'P')], [['A', 3, 'Q']])).toEqual({ movedSoon: 0, moved: 1 });
    expect(moved([pour('A/1', 3)], [['A', null]])).toEqual({ movedSoon: 0, moved: 1 });
    expect(moved([pour('A/1', 3), pour('A/2', 3), pour('A/3', 3)], [['A', 3]])).toEqual({ movedSoon: 0, moved: 2 });
    expect(moved([pour('A/1', 1)], [])).toEqual({ movedSoon: 1, moved: 1 });
    expect(moved([pour('A/1', 0), pour('A/2', 2)], [])).toEqual({ movedSoon: 1, moved: 2 });
    // more than were shown take nothing from others
    expect(
      moved(
        [pour('A/1', 3), pour('B/1', 3)],
        [
          ['A', 3],
          ['A', 3],
        ],
      ),
    ).toEqual({ movedSoon: 0, moved: 1 });
  });
});

describe('the guide that keeps what was shown', () => {
  const job = (key: string, latest: number, output = 1): Job =>
    ({ key, latest, output, item: { code: key.split('/')[0] } }) as unknown as Job;
  const guide = (pours: SnapshotPour[], jobs: Job[]) =>
    guideAsShown(shown(pours), jobs, {
      order: jobs.map((_, place) => place),
      early: [],
      waits: [],
    } as unknown as Guide);
  const days = (pours: SnapshotPour[], jobs: Job[]) => guide(pours, jobs)!.pins!.map((pin) => pin && pin.day - TODAY);

  it('is none where nothing was shown', () => {
    expect(guide([], [job('A/1', 1)])).toBeNull();
  });

  it('places first what was shown, the first day first, and then the others as they were to be placed', () => {
    const jobs = [job('N/1', 1), job('A/1', 9), job('B/1', 2), job('N/2', 3), job('C/1', 4)];
    const by = guide([pour('A/1', 5, 1, 'P'), pour('C/1', 1), pour('B/1', 3)], jobs)!;
    expect(by.order).toEqual([4, 2, 1, 0, 3]);
    expect(by.pins).toEqual([
      null,
      { key: 'A/1', day: TODAY + 5, vessel: 'P', output: 1 },
      expect.objectContaining({ key: 'B/1' }),
      null,
      expect.objectContaining({ key: 'C/1' }),
    ]);
  });

  it('knows a pour by its name and amount, then by its amount, and then by its turn', () => {
    // both names are as they were
    expect(days([pour('A/1', 5), pour('A/2', 2)], [job('A/1', 6), job('A/2', 7)])).toEqual([5, 2]);
    // an order in front of them has moved the names on
    expect(
      days([pour('A/1', 5, 30), pour('A/2', 6, 40)], [job('A/1', 3, 9), job('A/2', 6, 30), job('A/3', 7, 40)]),
    ).toEqual([null, 5, 6]);
    // only the name is the same: the amount says more
    expect(days([pour('A/1', 5, 30), pour('A/2', 6, 40)], [job('A/1', 6, 40), job('A/2', 7, 30)])).toEqual([6, 5]);
    // neither: the first that is due has the first day, in whichever order they are listed
    expect(days([pour('A/1', 5, 30), pour('A/2', 6, 40)], [job('A/8', 9, 1), job('A/9', 8, 2)])).toEqual([6, 5]);
    expect(days([pour('A/1', 5, 30), pour('A/2', 6, 40)], [job('A/8', 8, 1), job('A/9', 8, 2)])).toEqual([5, 6]);
    expect(days([pour('A/1', 5, 30)], [job('A/1', 3, 31), job('B/1', 3, 30)])).toEqual([5, null]);
  });
});

describe('how a plan was made', () => {
  const model = (choices: PlanChoices | null) =>
    buildModel(
      openShop({
        items: [counted('OIL'), bulk('MIX'), bulk('LARGE')],
        formulas: [
          formula('MIX', [line(1, 'OIL', 'part', 1e9)], { batchMin: 500, batchMax: 9_000 }),
          formula('LARGE', [line(1, 'OIL', 'part', 1e9)]),
        ],
        lots: [lot('O', 'OIL', 9)],
        lines: [ordered('a', 'MIX', 100, 3)],
        shown: { pours: [], choices },
      }),
    );
  const size = { windowDays: 3, most: 700, mix: 2 };

  it('is kept where it is not as usual', () => {
    expect(choicesOf(NOTHING_LEARNED)).toEqual({});
    const one = choicesOf({ ...NOTHING_LEARNED, sizes: new Map([['MIX', size]]), later: new Set(['a']) });
    expect(one.choices!.sizes).toHaveLength(1);
    expect(choicesOf({ ...NOTHING_LEARNED, later: new Set(['b', 'a']) })).toEqual({
      choices: { sizes: [], later: ['a', 'b'] },
    });
    const sizes = new Map([
      ['MIX', size],
      ['LARGE', { ...size, most: Number.POSITIVE_INFINITY }],
    ]);
    expect(choicesOf({ ...NOTHING_LEARNED, sizes, later: new Set(['a']) })).toEqual({
      choices: {
        sizes: [
          { item: 'MIX', ...size },
          { item: 'LARGE', ...size, most: null },
        ],
        later: ['a'],
      },
    });
  });

  it('is chosen again as far as it can be', () => {
    expect(choicesShown(model(null))).toBeNull();
    const again = (row: Partial<PlanChoices['sizes'][number]>) =>
      choicesShown(model({ sizes: [{ item: 'MIX', ...size, ...row }], later: ['a'] }))!;
    expect(again({})).toEqual({ sizes: new Map([['MIX', size]]), later: new Set(['a']) });
    // what is gone, what is bought, and what has become smaller than a batch may be
    for (const row of [{ item: 'GONE' }, { item: 'OIL' }, { most: 499 }]) expect(again(row).sizes.size).toBe(0);
    expect(again({ most: 500 }).sizes.get('MIX')!.most).toBe(500);
    // no more than fits
    for (const most of [null, 10_000]) expect(again({ most }).sizes.get('MIX')!.most).toBe(9_000);
    expect(again({ item: 'LARGE', most: null }).sizes.get('LARGE')!.most).toBe(Number.POSITIVE_INFINITY);
  });
});
