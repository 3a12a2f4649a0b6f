import { beforeEach, describe, expect, it } from 'vitest';
import type { FormulaView } from '../../src/catalog/formulas.schema.js';
import type { PersonView } from '../../src/people/people.schema.js';
import type { ChangedBatch, Committed, RunView } from '../../src/planning/planning.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { pageText, sendForm } from '../support/page-forms.js';
import { SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  return () => app.close();
});

interface Problem {
  code: string;
  errors?: { pointer: string }[];
}

const WEEK = '2026-03-09';
const THURSDAYS = [0, 0, 0, 240, 0, 0, 0];
const WEEKDAYS = [300, 300, 300, 300, 300, 0, 0];

const add = (body: unknown) => app.request<PersonView & Problem>('POST', '/api/people', body);
const put = (id: number, body: unknown) => app.request<PersonView & Problem>('PUT', `/api/people/${id}`, body);
const list = async () => (await app.request<{ people: PersonView[] }>('GET', '/api/people')).body.people;
const draft = async (): Promise<RunView> => (await app.request<RunView>('POST', '/api/runs', { weekStart: WEEK })).body;
const commit = (id: number) =>
  app.request<Committed & { changed: { what: string }[] }>('POST', `/api/runs/${id}/commit`);

/** The next version of the cedar spray, which asks for this. */
const ask = (skill: string | null, item = 'CEDAR-BULK') =>
  app.request<FormulaView & Problem>('POST', `/api/items/${item}/formulas`, {
    vesselKind: 'jug',
    batchMin: '500 g',
    batchMultiple: '100 g',
    minutesBatch: 40,
    restDays: 7,
    skill,
    lines: [
      { item: 'ALCOHOL', basis: 'qs', isBase: true },
      { item: 'CEDAR', basis: 'load', amount: '5 %' },
    ],
  });

/** Ada, who alone may pour what asks for solvents and works on Thursdays, and Bea, who works all week. */
async function adaAndBea(): Promise<{ ada: PersonView; bea: PersonView }> {
  const ada = await add({ name: 'Ada', minutes: THURSDAYS, skills: ['solvents'] });
  const bea = await add({ name: 'Bea', minutes: WEEKDAYS });
  expect([ada.status, bea.status, (await ask('solvents')).status]).toEqual([201, 201, 201]);
  return { ada: ada.body, bea: bea.body };
}

describe('who works here', () => {
  it('is nobody at first, then who was said, by name', async () => {
    expect(await list()).toEqual([]);
    await add({ name: ' bea ', minutes: WEEKDAYS });
    const ada = await add({ name: 'Ada', minutes: THURSDAYS, skills: [' Hot Wax', 'lye', 'hot wax'], isActive: false });
    expect(ada.body).toMatchObject({ name: 'Ada', minutes: THURSDAYS, skills: ['hot wax', 'lye'], isActive: false });
    expect((await list()).map(({ name, skills, isActive }) => [name, skills, isActive])).toEqual([
      ['Ada', ['hot wax', 'lye'], false],
      ['bea', [], true],
    ]);
  });

  it('is said anew, and taken off the list', async () => {
    const { id } = (await add({ name: 'Ada', minutes: THURSDAYS, skills: ['lye'] })).body;
    expect((await put(id, { name: 'Ada B.', minutes: WEEKDAYS })).body).toEqual({
      id,
      name: 'Ada B.',
      minutes: WEEKDAYS,
      skills: [],
      isActive: true,
    });
    expect((await put(id + 1, { name: 'Cleo', minutes: WEEKDAYS })).status).toBe(404);
    expect((await app.request('DELETE', `/api/people/${id}`)).status).toBe(204);
    expect((await app.request('DELETE', `/api/people/${id}`)).status).toBe(404);
    expect(await list()).toEqual([]);
  });

  it('is refused with the place of what is wrong', async () => {
    const pointersOf = async (body: object) => {
      const { status, body: answer } = await add({ name: 'Ada', minutes: WEEKDAYS, ...body });
      expect(status).toBe(422);
      return answer.errors?.map(({ pointer }) => pointer);
    };
    expect(await pointersOf({ name: ' ' })).toEqual(['/name']);
    expect(await pointersOf({ minutes: [300, 300] })).toEqual(['/minutes']);
    expect(await pointersOf({ minutes: [300, 1441, 0, 0, 0, 0, 0] })).toEqual(['/minutes/1']);
    expect(await pointersOf({ skills: ['lye', '<b>'] })).toEqual(['/skills/1']);
    await add({ name: 'Ada', minutes: WEEKDAYS });
    expect(await pointersOf({ name: 'ADA' })).toEqual(['/name']);
    expect(await list()).toHaveLength(1);
  });

  it('keeps their name to themselves when they are changed otherwise', async () => {
    const { id } = (await add({ name: 'Ada', minutes: WEEKDAYS })).body;
    expect((await put(id, { name: 'ada', minutes: THURSDAYS })).body).toMatchObject({
      name: 'ada',
      minutes: THURSDAYS,
    });
    const bea = (await add({ name: 'Bea', minutes: WEEKDAYS })).body;
    expect((await put(bea.id, { name: 'Ada', minutes: WEEKDAYS })).body).toMatchObject({ code: 'same-name' });
  });

  it('are sixty at most', async () => {
    await app.database.query(
      `insert into person (name, minutes) select 'P' || n, '{0,0,0,0,0,0,0}' from generate_series(1, 60) n`,
    );
    expect((await add({ name: 'One more', minutes: WEEKDAYS })).body).toMatchObject({ code: 'too-many' });
    expect(await list()).toHaveLength(60);
  });
});

describe('what a formula asks for', () => {
  it('is part of its version, and of none before', async () => {
    const asking = (await ask(' Solvents ')).body;
    expect(asking).toMatchObject({ version: 2, skill: 'solvents' });
    expect((await ask(null)).body).toMatchObject({ version: 3, skill: null });
    const { formulas } = (await app.request<{ formulas: FormulaView[] }>('GET', '/api/items/CEDAR-BULK/formulas')).body;
    expect(formulas.map(({ version, skill }) => [version, skill])).toEqual([
      [3, null],
      [2, 'solvents'],
      [1, null],
    ]);
  });

  it('is one of eight at most in all that is made now', async () => {
    for (let n = 1; n <= 9; n++)
      await app.request('POST', '/api/items', { code: `B-${n}`, name: `B ${n}`, kind: 'bulk', measure: 'weighed' });
    for (let n = 1; n <= 8; n++) expect((await ask(`skill ${n}`, `B-${n}`)).status).toBe(201);
    const ninth = await ask('skill 9', 'B-9');
    expect(ninth.body).toMatchObject({ code: 'too-many-skills', errors: [{ pointer: '/skill' }] });
    expect((await ask('skill 8', 'B-9')).status).toBe(201);
    // whose version before asked for the only one of its kind
    expect((await ask('skill 9', 'B-1')).status).toBe(201);
  });
});

describe('a plan', () => {
  it('puts what only Ada may pour on her day, and counts the minutes of both', async () => {
    await adaAndBea();
    const { proposal } = await draft();
    expect(proposal.days.map(({ minutesOpen }) => minutesOpen)).toEqual([300, 300, 300, 540, 300, 0, 0]);
    expect(proposal.batches.find(({ item }) => item === 'CEDAR-BULK')).toMatchObject({ day: '2026-03-12' });
  });

  it('is stale once somebody works otherwise, and not where somebody is not here anyway', async () => {
    const { bea } = await adaAndBea();
    const cleo = await add({ name: 'Cleo', minutes: WEEKDAYS, isActive: false });
    const { id } = await draft();
    await put(cleo.body.id, { name: 'Cleo', minutes: THURSDAYS, isActive: false });
    expect((await draft()).id).toBe(id);
    await put(bea.id, { name: 'Bea', minutes: THURSDAYS });
    const stale = await commit(id);
    expect(stale.status).toBe(409);
    expect(stale.body.changed).toMatchObject([{ what: 'people', key: 'people', change: 'changed' }]);
  });

  it('counts as before where nobody who works here is said', async () => {
    const { ada, bea } = await adaAndBea();
    await put(ada.id, { ...ada, id: undefined, isActive: false });
    await app.request('DELETE', `/api/people/${bea.id}`);
    const { proposal } = await draft();
    expect(proposal.days.map(({ minutesOpen }) => minutesOpen)).toEqual([480, 480, 480, 480, 480, 0, 0]);
    expect(proposal.batches.find(({ item }) => item === 'CEDAR-BULK')!.day).not.toBeNull();
  });

  it('leaves what nobody may make without a day, and pages say why', async () => {
    const { ada } = await adaAndBea();
    await put(ada.id, { name: 'Ada', minutes: THURSDAYS });
    const { id, proposal } = await draft();
    const pour = proposal.batches.find(({ item }) => item === 'CEDAR-BULK')!;
    expect(pour).toMatchObject({ day: null, heldUpBy: 'nobody-may' });
    const why = await pageText(app, `/why/batch/${id}/${encodeURIComponent(pour.key)}`);
    expect(why).toContain('It asks for solvents: nobody who works here may make it.');
    expect(why).toContain('It has no day: nobody who works here may make it.');
    expect(why).not.toContain('later than it should be');
    expect(why).not.toContain('is short');
    const week = await pageText(app, `/week/${WEEK}`);
    expect(week).toContain('No day for it');
    expect(week).toMatch(/g of Cedar spray<\/a><span>: nobody who works here may make it/);
    expect(await pageText(app, '/start/people')).toContain(
      'solvents, for Cedar spray: nobody may do it, so no plan can make it.',
    );
  });

  it('says who may make a batch now, and nobody of one that is made', async () => {
    const { ada } = await adaAndBea();
    const { id } = await draft();
    expect((await commit(id)).status).toBe(200);
    const why = `/why/batch/${id}/B26071-01`;
    expect(await pageText(app, why)).toContain('It asks for solvents: only Ada may make it.');
    const atTheBench = ['/batches/B26071-01', '/batches/B26071-01/sheet'];
    for (const path of atTheBench) expect(await pageText(app, path), path).toContain('Only Ada may make it.');
    await put(ada.id, { name: 'Ada', minutes: THURSDAYS, skills: ['solvents'], isActive: false });
    expect(await pageText(app, why)).toContain('It asks for solvents: nobody who works here may make it.');
    for (const path of atTheBench)
      expect(await pageText(app, path), path).toContain('Nobody who works here may make it.');
    const nobody = 'Nobody who works here may make what asks for solvents: 40 minutes of it that day.';
    expect(await pageText(app, `/week/${WEEK}`)).toContain(nobody);
    await app.database.query(`update batch set status = 'weighed' where code = 'B26071-01'`);
    const week = await pageText(app, `/week/${WEEK}`);
    expect(week).toContain('B26071-01');
    expect(week).not.toContain('may make');
    expect(await pageText(app, '/batches/B26071-01')).not.toContain('may make');
  });

  it('says on its pages who alone may pour, and how many of their minutes that takes', async () => {
    await adaAndBea();
    const { id, proposal } = await draft();
    const { key } = proposal.batches.find(({ item }) => item === 'CEDAR-BULK')!;
    expect(await pageText(app, `/week/${WEEK}`)).toContain(`${key}: only Ada may make it`);
    expect(await pageText(app, `/why/batch/${id}/${encodeURIComponent(key)}`)).toContain(
      'It asks for solvents: only Ada may make it.',
    );
    const thursday = await pageText(app, '/why/bench/2026-03-12');
    expect(thursday).toContain('Those who work that day have 540 minutes: Ada 240, Bea 300.');
    expect(thursday).toContain('Only Ada may make what asks for solvents: 40 of their 240 minutes.');
    expect(await pageText(app, '/why/bench/2026-03-14')).toContain('Nobody works that day.');
  });
});

describe('a batch that is moved', () => {
  const move = (run: number, body: unknown) =>
    app.request<ChangedBatch>('POST', `/api/runs/${run}/batches/B26071-01/change`, body);

  it('says how many minutes those have there who may make it', async () => {
    await adaAndBea();
    const { id } = await draft();
    expect((await commit(id)).status).toBe(200);
    const friday = await move(id, { day: '2026-03-13', preview: true });
    expect(friday.body).toMatchObject({
      minutesUsed: 40,
      minutesOpen: 300,
      few: [{ who: ['Ada'], skills: ['solvents'], minutesUsed: 40, minutesOpen: 0 }],
    });
    const thursday = await move(id, { vessel: 'JUG', preview: true });
    expect(thursday.body.few).toMatchObject([{ who: ['Ada'], minutesUsed: 40, minutesOpen: 240 }]);
    const page = await sendForm(app, `/week/${WEEK}/runs/${id}/batches/B26071-01/move-preview`, { day: '2026-03-13' });
    expect(page.text).toContain(
      'Only Ada may make what asks for solvents, and is not here: 40 minutes of it that day.',
    );
    // once it is there all the same, the week says so
    expect((await move(id, { day: '2026-03-13' })).status).toBe(200);
    expect(await pageText(app, `/week/${WEEK}`)).toContain(
      'Only Ada may make what asks for solvents, and is not here: 40 minutes of it that day.',
    );
  });

  it('says nothing of that where anybody may make it', async () => {
    await add({ name: 'Bea', minutes: WEEKDAYS });
    const { id } = await draft();
    expect((await commit(id)).status).toBe(200);
    expect((await move(id, { vessel: 'JUG', preview: true })).body.few).toEqual([]);
  });
});

describe('the page', () => {
  const form = (rest: Record<string, string> = {}) => ({
    name: 'Ada',
    skills: 'lye, hot wax',
    'minutes/0': '240',
    'minutes/1': '240',
    'minutes/3': '120',
    isActive: 'yes',
    ...rest,
  });

  it('writes somebody down, changes and takes them off', async () => {
    expect(await pageText(app, '/start/people')).toContain('Nobody is on it yet.');
    expect((await sendForm(app, '/start/people', form())).status).toBe(303);
    expect(await pageText(app, '/start/people')).toContain(
      'Ada: Monday to Tuesday 240 minutes, Thursday 120 minutes; may do lye, hot wax.',
    );
    const [{ id }] = (await list()) as [PersonView];
    expect(await pageText(app, `/start/people?person=${id}`)).toContain('value="lye, hot wax"');
    await sendForm(app, '/start/people', { ...form({ id: String(id), skills: '' }), isActive: '' });
    expect(await pageText(app, '/start/people')).toContain(
      'Ada, not here now: Monday to Tuesday 240 minutes, Thursday 120 minutes.',
    );
    expect(await pageText(app, '/start/people')).toContain('Nobody on it works here now.');
    await sendForm(app, '/start/people/gone', { id: String(id) });
    expect(await list()).toEqual([]);
  });

  it('says at its field what is wrong, and keeps what was typed', async () => {
    const minutes = await sendForm(app, '/start/people', form({ 'minutes/1': 'four hours' }));
    expect(minutes.status).toBe(422);
    expect(minutes.text).toContain('id="person-minutes/1-fault"');
    expect(minutes.text).toContain('value="four hours"');
    expect(minutes.text).toContain('This has to be whole minutes, 0 to 1440.');
    expect((await sendForm(app, '/start/people', form({ name: ' ' }))).text).toContain('Write something here.');
    const skills = await sendForm(app, '/start/people', form({ skills: 'lye, <wax>' }));
    expect(skills.text).toContain('id="person-skills-fault"');
    await sendForm(app, '/start/people', form());
    const again = await sendForm(app, '/start/people', form({ name: 'ada' }));
    expect(again.text).toContain('Somebody is called Ada already: add what tells them apart.');
    expect(again.text).toContain('id="person-name-fault"');
  });

  it('says so where all who work here have no minutes', async () => {
    const never = 'Nobody who works here has minutes on any weekday, so no plan can make anything.';
    await sendForm(app, '/start/people', form({ 'minutes/0': '0', 'minutes/1': '', 'minutes/3': '' }));
    const text = await pageText(app, '/start/people');
    expect(text).toContain(never);
    expect(text).toContain('Ada: no minutes on any weekday; may do lye, hot wax.');
    await add({ name: 'Bea', minutes: WEEKDAYS });
    expect(await pageText(app, '/start/people')).not.toContain(never);
  });

  it('shows a name as it is written, whatever is in it', async () => {
    await add({ name: '<i>Ada</i>', minutes: THURSDAYS, skills: ['solvents'] });
    await ask('solvents');
    await draft();
    for (const path of ['/start/people', `/week/${WEEK}`, '/why/bench/2026-03-12']) {
      const text = await pageText(app, path);
      expect(text).toContain('&lt;i>Ada');
      expect(text).not.toContain('<i>Ada');
    }
  });

  it('of a formula says what it asks for, beside the version before', async () => {
    await ask('solvents');
    const shown = await pageText(app, '/formulas/CEDAR-BULK');
    expect(shown).toContain('who may do solvents');
    expect(await pageText(app, '/formulas/CEDAR-BULK/new')).toMatch(/name="skill"[^>]*value="solvents"/);
  });
});
