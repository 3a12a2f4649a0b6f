import { describe, expect, it } from 'vitest';
import { readConfig } from '../src/config.js';
import { ppbOfPercent } from '../src/platform/schema.js';

describe('the settings', () => {
  it('have defaults that run on this machine only', () => {
    expect(readConfig({})).toEqual({
      port: 4300,
      host: '127.0.0.1',
      databaseUrl: undefined,
      databaseConnections: 10,
      home: `${process.cwd()}/.lotwright`,
      today: undefined,
      logLevel: 'warn',
      demo: true,
      backups: true,
      photos: undefined,
      redisUrl: undefined,
      worker: 'here',
      relay: { lookMs: 2000, quietSeconds: 8, sweepsMs: 5000 },
      smtp: undefined,
      webhookAllow: [],
    });
  });

  it('say where jobs lie, who works them, and how notices leave', () => {
    const given = {
      REDIS_URL: 'rediss://user:p@redis:6380/2',
      WORKER: 'separate',
      LOTWRIGHT_SMTP_URL: 'smtp://u:p@mail:587',
      LOTWRIGHT_SMTP_FROM: 'Workshop <notices@example.org>',
      LOTWRIGHT_WEBHOOK_ALLOW: '192.168.1.20, 10.0.0.0/8 fd00::/8',
    };
    expect(readConfig(given)).toMatchObject({
      redisUrl: given.REDIS_URL,
      worker: 'separate',
      smtp: { url: given.LOTWRIGHT_SMTP_URL, from: given.LOTWRIGHT_SMTP_FROM },
      webhookAllow: ['192.168.1.20', '10.0.0.0/8', 'fd00::/8'],
    });
  });

  it('take what is given, and nothing for not given', () => {
    const given = {
      PORT: '0',
      DATABASE_URL: 'postgres://u:p@db/x',
      DATABASE_CONNECTIONS: '25',
      LOTWRIGHT_TODAY: '2026-03-02',
      LOTWRIGHT_DEMO: '0',
      HOST: '',
    };
    expect(readConfig(given)).toMatchObject({
      port: 0,
      databaseUrl: 'postgres://u:p@db/x',
      databaseConnections: 25,
      today: '2026-03-02',
      demo: false,
      host: '127.0.0.1',
    });
  });

  it.each([
    [{ PORT: 'http' }, 'PORT must be a number'],
    [{ PORT: '70000' }, 'PORT'],
    [{ DATABASE_CONNECTIONS: 'many' }, 'DATABASE_CONNECTIONS must be a number'],
    [{ DATABASE_CONNECTIONS: '2' }, 'DATABASE_CONNECTIONS must be 3 or more'],
    [{ PORT: '43.5' }, 'PORT'],
    [{ DATABASE_URL: 'mysql://x' }, 'DATABASE_URL must start with postgres://'],
    [{ REDIS_URL: 'http://redis' }, 'REDIS_URL must be redis://'],
    [{ WORKER: 'elsewhere' }, 'WORKER must be here or separate'],
    [{ LOTWRIGHT_SMTP_URL: 'mail:25' }, 'LOTWRIGHT_SMTP_URL must be smtp://'],
    [{ LOTWRIGHT_WEBHOOK_ALLOW: '10.0.0.0/33' }, 'LOTWRIGHT_WEBHOOK_ALLOW must be addresses'],
    [{ LOTWRIGHT_TODAY: '2026-02-30' }, 'LOTWRIGHT_TODAY must be a day'],
    [{ LOTWRIGHT_DEMO: 'yes' }, 'LOTWRIGHT_DEMO must be 0 or 1'],
    [{ LOTWRIGHT_BACKUPS: 'daily' }, 'LOTWRIGHT_BACKUPS must be 0 or 1'],
    [{ LOTWRIGHT_HOEM: '/x' }, 'LOTWRIGHT_HOEM is not a setting of Lotwright'],
    [{ LOG_LEVEL: 'loud' }, 'LOG_LEVEL must be one of'],
    [{ LOTWRIGHT_PHOTOS_URL: 'https://bucket.example' }, 'LOTWRIGHT_PHOTOS_URL must be https://host/bucket'],
    [{ LOTWRIGHT_PHOTOS_URL: 'https://s3.example/b', LOTWRIGHT_PHOTOS_KEY_ID: 'k' }, 'are set together or not at all'],
  ])('refuse %o in one line', (env, said) => {
    expect(() => readConfig(env)).toThrow(
      expect.objectContaining({ name: 'StartProblem', message: expect.stringContaining(said) }),
    );
    expect(() => readConfig(env)).toThrow(/^Cannot start: [^\n]*\.$/);
  });

  it('name every fault at once', () => {
    expect(() => readConfig({ PORT: 'x', LOTWRIGHT_X: '1' })).toThrow(/LOTWRIGHT_X.*PORT/);
  });
});

describe('percent as text', () => {
  it.each([
    ['5.5 %', 55_000_000],
    ['5.5', 55_000_000],
    ['100%', 1_000_000_000],
    ['0.0000001', 1],
    ['0', 0],
    ['5,5', undefined],
    ['5.12345678', undefined],
    ['-1', undefined],
    ['1e2', undefined],
    ['', undefined],
    ['%', undefined],
  ])('%s', (text, ppb) => {
    expect(ppbOfPercent(text)).toBe(ppb);
  });
});
