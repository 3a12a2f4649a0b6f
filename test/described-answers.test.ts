import { describe, expect, it } from 'vitest';
import { faultsOfAnswer } from './support/described-answers.js';

const CHANNEL = { code: 'webshop', name: 'Web shop', promiseDays: 5, weight: 1, sends: 'lines' };
const PROBLEM = {
  type: 'about:blank',
  title: 'Conflict',
  status: 409,
  detail: 'It is there already.',
  instance: '/api/channels',
  code: 'taken',
};

const answer = (body: unknown, more: object = {}) =>
  faultsOfAnswer({
    method: 'POST',
    route: '/api/channels',
    status: 201,
    contentType: 'application/json; charset=utf-8',
    text: JSON.stringify(body),
    ...more,
  });
const problem = (body: unknown, more: object = {}) =>
  answer(body, { status: 409, contentType: 'application/problem+json; charset=utf-8', ...more });

describe('an answer of the API', () => {
  it('passes as it is described', () => {
    expect(answer(CHANNEL)).toEqual([]);
    expect(problem(PROBLEM)).toEqual([]);
    expect(problem({ ...PROBLEM, errors: [{ pointer: '/code', detail: 'is taken' }] })).toEqual([]);
  });

  it.each([
    ['a number as text', { ...CHANNEL, promiseDays: '5' }, 'must be integer'],
    ['a field nobody described', { ...CHANNEL, id: 7 }, 'additional properties'],
    ['a field left out', { code: 'webshop', name: 'Web shop' }, 'must have required'],
    ['a value of another form', { ...CHANNEL, code: 'Web Shop' }, 'must match pattern'],
  ])('does not pass with %s', (_, body, said) => expect(answer(body).join()).toContain(said));

  it('does not pass with a status, a kind or a route nobody described', () => {
    expect(answer(CHANNEL, { status: 200 }).join()).toContain('the status is not described');
    expect(answer(CHANNEL, { contentType: 'text/plain' }).join()).toContain('as text/plain');
    expect(answer(CHANNEL, { route: '/api/chanels' }).join()).toContain('it is not described');
    expect(answer(PROBLEM, { status: 409 }).join()).toContain('as application/json');
    expect(answer(CHANNEL, { text: undefined }).join()).toContain('was not seen');
  });

  it('does not pass as a problem with a member nobody described, and does where the route describes it', () => {
    const stale = { ...PROBLEM, changed: [{ what: 'lots', key: '26061-001', change: 'gone' }] };
    expect(problem(stale).join()).toContain('additional properties');
    expect(problem(stale, { route: '/api/runs/:id/commit' })).toEqual([]);
    expect(problem(stale, { route: '/nowhere', method: 'GET' }).join()).toContain('additional properties');
  });

  it('passes empty where nothing is to come, and not otherwise', () => {
    const gone = { method: 'DELETE', route: '/api/runs/:id', status: 204, contentType: undefined };
    expect(answer(undefined, { ...gone, text: '' })).toEqual([]);
    expect(answer(CHANNEL, gone).join()).toContain('nothing was to come');
  });
});
