import { Body, Controller, Get, Module, Param, Post, Query } from '@nestjs/common';
import { Readable } from 'node:stream';
import { text } from 'node:stream/consumers';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { Database } from '../../src/platform/database.js';
import { Who } from '../../src/platform/person.js';
import {
  amountInput,
  idParam,
  isoDay,
  itemCode,
  lineOfText,
  pageQuery,
  percentInput,
} from '../../src/platform/schema.js';
import { problemOf } from '../../src/platform/problem-filter.js';
import { useTestApp } from '../support/app.js';

const thing = z.strictObject({
  code: itemCode,
  name: lineOfText(20).optional(),
  amount: amountInput.optional(),
  share: percentInput.optional(),
  day: isoDay.optional(),
  lines: z.array(z.strictObject({ 'a/b~c': z.int() })).optional(),
});

/** Routes of no room, to see what the platform does with any of them. */
@Controller('probe')
class ProbeController {
  constructor(private readonly database: Database) {}

  @Post('things')
  make(@Who() who: string, @Body({ schema: thing }) body: z.infer<typeof thing>) {
    return { who, body };
  }

  @Get('things/:id')
  find(@Param('id', { schema: idParam }) id: number, @Query({ schema: pageQuery }) query: z.infer<typeof pageQuery>) {
    return { id, ...query };
  }

  @Post('tables')
  async table(@Body() body: unknown) {
    return { length: body instanceof Readable ? (await text(body)).length : -1 };
  }

  @Post('sql')
  async sql(
    @Body({ schema: z.strictObject({ sql: z.string(), values: z.array(z.unknown()).default([]) }) })
    body: { sql: string; values: unknown[] },
  ) {
    return { rows: await this.database.act({ who: 'probe' }, (tx) => tx.query(body.sql, body.values)) };
  }

  @Get('fault')
  fault() {
    throw new Error('the secret of the inside');
  }
}

@Module({ controllers: [ProbeController] })
class ProbeModule {}

const api = useTestApp({ imports: [ProbeModule], isQuiet: true });

const problem = (status: number, code: string) => ({
  status,
  headers: expect.objectContaining({ 'content-type': 'application/problem+json; charset=utf-8' }),
  body: expect.objectContaining({
    type: 'about:blank',
    title: expect.any(String),
    status,
    code,
    detail: expect.any(String),
  }),
});

interface ProblemBody {
  detail: string;
  instance: string;
  errors: { pointer: string; detail: string; code: string }[];
}

const post = (body: unknown, headers?: Record<string, string>) =>
  api.request<ProblemBody>('POST', '/probe/things', body, headers);

describe('a request that is right', () => {
  it('is read by its schema', async () => {
    const answer = await api.request('POST', '/probe/things', {
      code: 'LAV-10',
      name: ' Lavender ',
      share: '5.5 %',
      amount: '2.5 kg',
    });
    expect(answer).toMatchObject({
      status: 201,
      body: { who: 'workshop', body: { code: 'LAV-10', name: 'Lavender', share: 55_000_000, amount: '2.5 kg' } },
    });
  });

  it('says who acts, percent-encoded beyond ASCII', async () => {
    const named = await post({ code: 'A' }, { 'lotwright-person': 'Zo%C3%AB at the bench' });
    expect(named).toMatchObject({ status: 201, body: { who: 'Zoë at the bench' } });
    expect(await post({ code: 'A' }, { 'lotwright-person': 'x'.repeat(81) })).toMatchObject(problem(400, 'bad-person'));
    expect(await post({ code: 'A' }, { 'lotwright-person': 'a%0Ab' })).toMatchObject(problem(400, 'bad-person'));
  });

  it('has path and query read as numbers', async () => {
    expect((await api.request('GET', '/probe/things/7?limit=5')).body).toEqual({ id: 7, limit: 5 });
    expect((await api.request('GET', '/probe/things/7')).body).toEqual({ id: 7, limit: 100 });
  });
});

describe('a request that is wrong', () => {
  const wrong: [string, unknown, { pointer: string; code: string }[]][] = [
    ['a missing field', {}, [{ pointer: '/code', code: 'required' }]],
    ['a code in small letters', { code: 'abc' }, [{ pointer: '/code', code: 'invalid' }]],
    [
      'unknown fields, each by name',
      { code: 'A', x: 1, 'y/z': 2 },
      [
        { pointer: '/x', code: 'unknown-field' },
        { pointer: '/y~1z', code: 'unknown-field' },
      ],
    ],
    [
      'a field of a line',
      { code: 'A', lines: [{ 'a/b~c': 1 }, { 'a/b~c': 'x' }] },
      [{ pointer: '/lines/1/a~1b~0c', code: 'wrong-type' }],
    ],
    ['an amount of no type', { code: 'A', amount: true }, [{ pointer: '/amount', code: 'wrong-type' }]],
    ['a negative amount', { code: 'A', amount: -1 }, [{ pointer: '/amount', code: 'out-of-range' }]],
    ['an amount past the safe integers', { code: 'A', amount: 1e300 }, [{ pointer: '/amount', code: 'out-of-range' }]],
    ['a share over the whole', { code: 'A', share: '100.1 %' }, [{ pointer: '/share', code: 'invalid' }]],
    ['a share with a comma', { code: 'A', share: '5,5' }, [{ pointer: '/share', code: 'invalid' }]],
    ['a day that is none', { code: 'A', day: '2026-02-30' }, [{ pointer: '/day', code: 'invalid' }]],
    ['a NUL byte', { code: 'A', name: 'a\0b' }, [{ pointer: '/name', code: 'invalid' }]],
    ['a body that is a list', [], [{ pointer: '', code: 'wrong-type' }]],
    ['a body that is null', null, [{ pointer: '', code: 'wrong-type' }]],
  ];
  it.each(wrong)('names %s', async (_, body, errors) => {
    const answer = await post(body);
    expect(answer).toMatchObject(problem(422, 'invalid'));
    expect(answer.body.errors).toMatchObject(errors);
    expect(answer.body.instance).toBe('/probe/things');
  });

  it('names path and query', async () => {
    const answer = await api.request<ProblemBody>('GET', '/probe/things/x');
    expect(answer).toMatchObject(problem(422, 'invalid'));
    expect(answer.body.errors).toMatchObject([{ pointer: '/path/id' }]);
    const query = await api.request<ProblemBody>('GET', '/probe/things/1?limit=5000&far=1');
    expect(query.body.errors).toMatchObject([{ pointer: '/query/limit' }, { pointer: '/query/far' }]);
    expect(await api.request('GET', `/probe/things/${'9'.repeat(40)}`)).toMatchObject(problem(422, 'invalid'));
    expect(await api.request('GET', '/probe/things/%00')).toMatchObject(problem(422, 'invalid'));
  });

  it('lists a hundred errors at most', async () => {
    const lines = Array.from({ length: 5000 }, () => ({ 'a/b~c': 'x' }));
    expect((await post({ code: 'A', lines })).body.errors).toHaveLength(100);
  });

  const json = { 'content-type': 'application/json' };
  it('has a body that is no JSON, empty, or not allowed to be', async () => {
    expect(await post('{"code":', json)).toMatchObject(problem(400, 'malformed-request'));
    expect(await post('', json)).toMatchObject(problem(400, 'malformed-request'));
    expect(await post('{"code":"A","__proto__":{"x":1}}', json)).toMatchObject(problem(400, 'malformed-request'));
    expect(await post('{"code":"A","constructor":{"prototype":{}}}', json)).toMatchObject(
      problem(400, 'malformed-request'),
    );
    expect(await post('a,b', { 'content-type': 'text/plain' })).toMatchObject(problem(415, 'unsupported-media-type'));
    expect(await post('a,b', { 'content-type': 'text/csv' })).toMatchObject(problem(415, 'unsupported-media-type'));
    expect(await post(`{"code":"${'A'.repeat(10_000_000)}"}`, json)).toMatchObject(problem(413, 'too-large'));
    expect(await api.request('POST', '/probe/things')).toMatchObject(problem(422, 'invalid'));
  });

  it('asks for what is not there', async () => {
    expect(await api.request('GET', '/nowhere')).toMatchObject(problem(404, 'no-such-route'));
    expect(await api.request('DELETE', '/probe/things')).toMatchObject(problem(404, 'no-such-route'));
    expect(await api.request('GET', '/probe/things/%zz')).toMatchObject(problem(400, 'malformed-request'));
  });
});

describe('a table as body', () => {
  it('reaches the route as a stream', async () => {
    const csv = 'a,b\n'.repeat(500_000);
    const answer = await api.request('POST', '/probe/tables', csv, { 'content-type': 'text/csv' });
    expect(answer).toMatchObject({ status: 201, body: { length: csv.length } });
  });

  it('is refused past its limit, told or not', async () => {
    const csv = Buffer.alloc(33 * 1024 * 1024, 'a');
    expect(await api.request('POST', '/probe/tables', csv, { 'content-type': 'text/csv' })).toMatchObject(
      problem(413, 'too-large'),
    );
    const headers = { 'content-type': 'text/csv' };
    const untold = await api.app.inject({
      method: 'POST',
      url: '/probe/tables',
      headers,
      payload: Readable.from([csv]),
    });
    expect({ status: untold.statusCode, ...JSON.parse(untold.body) }).toMatchObject({ status: 413, code: 'too-large' });
  });
});

describe('a fault', () => {
  it('of the program says nothing of the inside', async () => {
    const answer = await api.request<ProblemBody>('GET', '/probe/fault?secret=1');
    expect(answer).toMatchObject(problem(500, 'internal'));
    expect(answer.text).not.toContain('secret');
    expect(answer.headers['x-request-id']).toMatch(/^[0-9a-f-]{36}$/);
  });

  const raised: [string, string, unknown[], number, string][] = [
    ['a text with NUL', `select $1::text`, ['a\0b'], 422, 'invalid'],
    ['a number past int8', `select $1::bigint`, ['99999999999999999999'], 422, 'out-of-range'],
    ['a number that is none', `select $1::bigint`, ['x'], 422, 'invalid'],
    [
      'a second of one',
      `insert into vessel (code, kind, capacity_mg) values ('POT', 'pot', 1), ('POT', 'pot', 1)`,
      [],
      409,
      'already-exists',
    ],
    ['a thing that is not there', `insert into use_limit values (999, 'x', 0, 's', '2026-01-01')`, [], 409, 'in-use'],
    [
      'a value outside its range',
      `insert into vessel (code, kind, capacity_mg) values ('POT', 'pot', 0)`,
      [],
      422,
      'out-of-range',
    ],
    ['a lot that is not there', `select free_reservation(1, 1)`, [], 404, 'not-found'],
    ['a statement that is wrong', `selec 1`, [], 500, 'internal'],
  ];
  it.each(raised)('raised by the database: %s', async (_, sql, values, status, code) => {
    expect(await api.request('POST', '/probe/sql', { sql, values })).toMatchObject(problem(status, code));
  });

  it.each([
    ['LW002', 409, 'lot-not-released'],
    ['LW003', 409, 'past-its-date'],
    ['LW004', 409, 'reservation-mismatch'],
    ['LW005', 409, 'not-enough'],
    ['LW006', 409, 'correction-mismatch'],
    ['LW007', 409, 'only-added-to'],
    ['LW008', 409, 'wrong-state'],
    ['LW000', 500, 'internal'],
    ['57P01', 503, 'database-unavailable'],
    ['57P03', 503, 'database-unavailable'],
    ['53300', 503, 'database-unavailable'],
    ['53100', 507, 'disk-full'],
    ['53200', 503, 'out-of-memory'],
    ['58030', 503, 'disk-fault'],
  ])('raised by the ledger: %s', async (state, status, code) => {
    const sql = `do $$ begin raise exception 'a reason for a person' using errcode = '${state}'; end $$`;
    const answer = await api.request<ProblemBody>('POST', '/probe/sql', { sql });
    expect(answer).toMatchObject(problem(status, code));
    // only what the ledger says is meant for a person
    expect(answer.body.detail === 'A reason for a person.').toBe(status === 409);
  });

  it('that was a full disk is said, and remembered only until it was tried out that there is room', async () => {
    const sql = `do $$ begin raise exception 'could not extend file "base/1/2"' using errcode = '53100'; end $$`;
    const detail = expect.stringMatching(/^The disk is full: nothing was written\. Free some space, /) as string;
    expect((await api.request<ProblemBody>('POST', '/probe/sql', { sql })).body).toMatchObject({
      title: 'Insufficient Storage',
      detail,
    });
    // it is tried out once a second at most
    const ready = async () => (await api.request('GET', '/health/ready')).status;
    await expect.poll(ready, { timeout: 5000 }).toBe(200);
    expect((await api.request('POST', '/probe/sql', { sql: 'select 1' })).status).toBeLessThan(300);
  });

  it.each(['ENOSPC', 'EDQUOT'])('as a file that cannot be written is said the same way: %s', (code) => {
    const error = Object.assign(new Error(`${code}: write`), { code });
    expect(problemOf(error)).toMatchObject({ status: 507, code: 'disk-full' });
  });

  it('as a pipe that broke is a database that is away', () => {
    expect(problemOf(Object.assign(new Error('write EPIPE'), { code: 'EPIPE' }))).toMatchObject({
      status: 503,
      code: 'database-unavailable',
    });
  });
});
