import { describe, expect, it } from 'vitest';
import type { WorkshopView } from '../../src/catalog/workshop.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';

const app = useTestApp();

interface Problem {
  errors: { pointer: string }[];
}

const WORKSHOP = {
  name: 'Test bench',
  timeZone: 'Pacific/Auckland',
  currency: 'NZD',
  units: 'us',
  benchMinutes: [480, 480, 0, 480, 240, 60, 0],
  slackDays: 2,
  receivingDays: 0,
  scaleStep: '0.01 g',
  scaleLeast: '0.2 g',
};

describe('the workshop', () => {
  it('has sensible settings before anybody sets them', async () => {
    const { status, body } = await app.request<WorkshopView>('GET', '/api/workshop');
    expect(status).toBe(200);
    expect(body).toMatchObject({ timeZone: 'UTC', scaleStep: 100, scaleLeast: 500, isDemo: false });
  });

  it('keeps what is set, once and again', async () => {
    const { status, body } = await app.request<WorkshopView>('PUT', '/api/workshop', WORKSHOP);
    expect(status).toBe(200);
    const bench = {
      labourRateE4: null,
      lossTolerancePpb: 20_000_000,
      weighTolerancePpb: 10_000_000,
      bestBeforeOfMaterials: false,
      planTerms: [],
    };
    expect(body).toEqual({ ...WORKSHOP, ...bench, scaleStep: 10, scaleLeast: 200, isDemo: false });
    const set = {
      labourRateE4: 280_000,
      lossTolerancePpb: '3 %',
      weighTolerancePpb: 5_000_000,
      bestBeforeOfMaterials: true,
      planTerms: ['weightedDays', 'washing', 'uneven', 'moved'],
    };
    expect((await app.request('PUT', '/api/workshop', { ...WORKSHOP, ...set })).status).toBe(200);
    // what a later form does not know stays as it is
    await app.request('PUT', '/api/workshop', { ...WORKSHOP, slackDays: 3 });
    expect((await app.request<WorkshopView>('GET', '/api/workshop')).body).toMatchObject({
      ...set,
      lossTolerancePpb: 30_000_000,
      slackDays: 3,
    });
    expect(await app.database.query('select updated_by from workshop')).toEqual([{ updated_by: 'workshop' }]);
  });

  it.each([
    [{ timeZone: 'Mars/Olympus' }, '/timeZone'],
    [{ timeZone: '+01:00' }, '/timeZone'],
    [{ currency: 'euro' }, '/currency'],
    [{ benchMinutes: [480] }, '/benchMinutes'],
    [{ units: 'imperial' }, '/units'],
    [{ benchMinutes: [480, 480, 480, 480, 480, 0, 1441] }, '/benchMinutes/6'],
    [{ scaleStep: 0 }, '/scaleStep'],
    [{ scaleStep: '1 ml' }, '/scaleStep'],
    [{ scaleLeast: '0.001 g' }, '/scaleLeast'],
    [{ slackDays: 31 }, '/slackDays'],
    [{ planTerms: ['speed'] }, '/planTerms/0'],
    [{ planTerms: ['days', 'late', 'days'] }, '/planTerms'],
  ])('refuses %j', async (change, pointer) => {
    const { status, body } = await app.request<Problem>('PUT', '/api/workshop', { ...WORKSHOP, ...change });
    expect(status).toBe(422);
    expect(body.errors.map((error) => error.pointer)).toContain(pointer);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(await faultsOnBadInput(app, 'PUT', '/api/workshop', WORKSHOP)).toEqual([]);
  });
});

describe('vessels', () => {
  it('adds and lists them', async () => {
    const vessel = { code: 'JUG-1', kind: 'jug', capacity: '6 kg' };
    expect((await app.request('POST', '/api/vessels', vessel)).status).toBe(201);
    expect((await app.request('POST', '/api/vessels', vessel)).status).toBe(409);
    const { body } = await app.request('GET', '/api/vessels');
    expect(body).toEqual({ vessels: [{ code: 'JUG-1', kind: 'jug', capacity: 6_000_000 }] });
  });

  it('refuses one that holds nothing, and bad input', async () => {
    const { status } = await app.request('POST', '/api/vessels', { code: 'V', kind: 'jug', capacity: 0 });
    expect(status).toBe(422);
    expect(
      await faultsOnBadInput(app, 'POST', '/api/vessels', { code: 'FUZZ', kind: 'jug', capacity: '1 kg' }),
    ).toEqual([]);
  });
});

describe('closed days', () => {
  it('closes a day, with the newest reason, and opens it again', async () => {
    await app.request('POST', '/api/closed-days', { day: '2026-03-05', why: 'fair' });
    expect((await app.request('POST', '/api/closed-days', { day: '2026-03-05', why: 'holiday' })).status).toBe(201);
    const list = await app.request('GET', '/api/closed-days');
    expect(list.body).toEqual({ closedDays: [{ day: '2026-03-05', why: 'holiday' }] });
    expect((await app.request('DELETE', '/api/closed-days/2026-03-05')).status).toBe(204);
    expect((await app.request('DELETE', '/api/closed-days/2026-03-05')).status).toBe(404);
    expect((await app.request('DELETE', '/api/closed-days/2026-02-30')).status).toBe(422);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(await faultsOnBadInput(app, 'POST', '/api/closed-days', { day: '2026-03-05', why: 'fair' })).toEqual([]);
  });
});
