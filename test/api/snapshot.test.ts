import { beforeAll, describe, expect, it } from 'vitest';
import { SnapshotService } from '../../src/planning/snapshot.service.js';
import { Database } from '../../src/platform/database.js';
import { startTestApp, type TestApp, TODAY } from '../support/app.js';
import { patience } from '../support/scale.js';
import { SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;
let snapshots: SnapshotService;
let database: Database;
beforeAll(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  snapshots = app.app.get(SnapshotService);
  database = app.app.get(Database);
  return () => app.close();
});

const taken = () => database.read((tx) => snapshots.take(tx, TODAY, TODAY));
const RENAMED = `update item set target = target + 1 where code = (select min(code) from item where kind = 'material')`;

describe('what a plan is made from', () => {
  it('is read once as long as nothing was written', async () => {
    const first = await taken();
    // any transaction of the server counts, and other tests write beside this one: between some two looks nobody did
    await expect.poll(async () => (await taken()) === (await taken()), { timeout: patience(20_000) }).toBe(true);
    const other = await database.read((tx) => snapshots.take(tx, TODAY, '2026-03-09'));
    expect(other.hash).not.toBe(first.hash);
  });

  it('is read again after any transaction that wrote, whoever it was of', async () => {
    const first = await taken();
    await app.database.query(RENAMED);
    const second = await taken();
    expect(second.hash).not.toBe(first.hash);
    expect(second.snapshot.items).not.toEqual(first.snapshot.items);
  });

  it('is as the transaction itself has written it, and not kept for others', async () => {
    const before = await taken();
    const broken = database.act({ who: 'test' }, async (tx) => {
      await tx.query(RENAMED);
      const inside = await snapshots.take(tx, TODAY, TODAY);
      expect(inside.hash).not.toBe(before.hash);
      expect((await snapshots.take(tx, TODAY, TODAY)).hash).toBe(inside.hash);
      throw new Error('taken back');
    });
    await expect(broken).rejects.toThrow('taken back');
    expect((await taken()).hash).toBe(before.hash);
  });

  it('does not show what another transaction has not ended yet', async () => {
    const before = await taken();
    await database.act({ who: 'test' }, async (tx) => {
      await tx.query(RENAMED);
      expect((await taken()).hash).toBe(before.hash);
    });
    expect((await taken()).hash).not.toBe(before.hash);
  });

  it('is the older moment for one who began before, also after a newer one was kept', async () => {
    const before = await taken();
    await database.read(async (tx) => {
      await tx.query('select 1 from item');
      await app.database.query(RENAMED);
      expect((await taken()).hash).not.toBe(before.hash);
      expect((await snapshots.take(tx, TODAY, TODAY)).hash).toBe(before.hash);
    });
  });
});

describe('what of a lot is free', () => {
  const freeOf = async (code: string) => (await taken()).snapshot.lots.find((lot) => lot.code === code)?.free;

  it('is what is on hand, less what is set aside and what its container keeps', async () => {
    expect(await freeOf('CED-OLD')).toBe(30_000);
    await app.database.query(`update item set heel = 4000 where code = 'CEDAR'`);
    expect(await freeOf('CED-OLD')).toBe(26_000);
    expect(await freeOf('CED-NEW')).toBe(96_000);
    expect(await freeOf('ALC-1')).toBe(8_000_000);
    // a container that keeps more than is left has nothing to give
    await app.database.query(`update item set heel = 30001 where code = 'CEDAR'`);
    expect(await freeOf('CED-OLD')).toBe(0);
  });

  it('is nothing of a lot that is not released', async () => {
    await app.database.query(`update lot set status = 'held' where code = 'CED-NEW'`);
    expect(await freeOf('CED-NEW')).toBeUndefined();
  });
});
