import { beforeEach, describe, expect, it } from 'vitest';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import type { RunView } from '../../src/planning/planning.schema.js';
import { SnapshotService } from '../../src/planning/snapshot.service.js';
import { Database } from '../../src/platform/database.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  return () => app.close();
});

const WEEK = '2026-03-09';
const draft = async (weekStart = WEEK): Promise<RunView> => {
  const answer = await app.request<RunView>('POST', '/api/runs', { weekStart });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
/** What a plan was made from. */
const snapshotOf = async ({ id }: RunView): Promise<Snapshot> => {
  const [row] = await app.database.query<{ snapshot: Snapshot }>('select snapshot from run where id = $1', [id]);
  return row!.snapshot;
};
const shownTo = async (run: RunView): Promise<string[]> =>
  ((await snapshotOf(run)).shown?.pours ?? []).map(({ item, day, vessel }) => `${item} ${day} ${vessel}`).sort();
const proposed = ({ proposal }: RunView): string[] =>
  proposal.batches.map(({ item, day, vessel }) => `${item} ${day} ${vessel}`).sort();

describe('a plan after another', () => {
  it('is given what that showed, whatever became of it, until it is committed or taken back', async () => {
    const first = await draft();
    expect(await shownTo(first)).toEqual([]);
    await order(app, 'MORE', 5, '2026-03-20');
    const second = await draft();
    expect(await shownTo(second)).toEqual(proposed(first));
    const committed = await app.request('POST', `/api/runs/${second.id}/commit`);
    expect(committed.status, committed.text).toBe(200);
    await order(app, 'AGAIN', 3, '2026-03-25');
    const third = await draft();
    const later = second.proposal.batches.filter(({ inWeek, short }) => !inWeek || short);
    expect(await shownTo(third)).toEqual(later.map(({ item, day, vessel }) => `${item} ${day} ${vessel}`).sort());
    // another week has none of its own yet
    expect(await shownTo(await draft('2026-03-16'))).toEqual(proposed(third));
  });

  it('is the same for all who ask, as long as nothing has changed since', async () => {
    await draft();
    await order(app, 'MORE', 5, '2026-03-20');
    const second = await draft();
    expect((await draft()).id).toBe(second.id);
    const asked = await app.app
      .get(Database)
      .read((tx) => app.app.get(SnapshotService).take(tx, second.plannedOn, WEEK));
    expect(asked.snapshot).toEqual(await snapshotOf(second));
    await order(app, 'AND-MORE', 5, '2026-03-20');
    const changed = await app.app
      .get(Database)
      .read((tx) => app.app.get(SnapshotService).take(tx, second.plannedOn, WEEK));
    expect(changed.key).not.toBe(asked.key);
    expect(changed.snapshot.shown!.pours).toHaveLength(second.proposal.batches.length);
  });

  it('tells nobody how it was made', async () => {
    const { id } = await draft();
    const [row] = await app.database.query<{ proposal: { batches: unknown[] } }>(
      'select proposal from run where id = $1',
      [id],
    );
    const choices = { sizes: [], later: ['shop/1001/CEDAR-100#1'] };
    await app.database.query('update run set proposal = $2 where id = $1', [id, { ...row!.proposal, choices }]);
    expect((await app.request<RunView>('GET', `/api/runs/${id}`)).body.proposal).toEqual(row!.proposal);
    await order(app, 'MORE', 5, '2026-03-20');
    expect((await snapshotOf(await draft())).shown!.choices).toEqual(choices);
  });
});
