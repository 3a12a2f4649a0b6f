import { once } from 'node:events';
import { connect } from 'node:net';
import { Agent, get } from 'node:http';
import type { IncomingMessage } from 'node:http';
import { setTimeout as pause } from 'node:timers/promises';
import { Controller, Get, Module } from '@nestjs/common';
import { expect, it } from 'vitest';
import { conflict } from '../../src/platform/problem.js';
import { startTestApp } from '../support/app.js';

let begun = () => {};

@Controller('slow')
class SlowController {
  @Get()
  async refuse(): Promise<never> {
    begun();
    await pause(200);
    throw conflict('too-slow', 'This took too long.');
  }
}

@Module({ controllers: [SlowController] })
class SlowModule {}

it('a connection whose last answer is a refusal does not keep the server from closing', async () => {
  const api = await startTestApp({ imports: [SlowModule] });
  const agent = new Agent({ keepAlive: true });
  try {
    await api.app.listen(0, '127.0.0.1');
    const { port } = api.app.getHttpServer().address() as { port: number };
    const isAsked = new Promise<void>((resolve) => (begun = resolve));
    const answered = once(get({ port, host: '127.0.0.1', path: '/slow', agent }), 'response');
    await isAsked;
    const closed = api.close().then(() => 'closed');
    const [answer] = (await answered) as [IncomingMessage];
    answer.resume();
    expect(answer.statusCode).toBe(409);
    expect(await Promise.race([closed, pause(10_000, 'still open')])).toBe('closed');
  } finally {
    agent.destroy();
  }
});

it.each([
  ['that never asked anything', ''],
  ['that broke off in the middle of a question', 'GET /week HTTP/1.1\r\nHo'],
])('a connection %s does not keep the server from closing', async (_, sent) => {
  const api = await startTestApp();
  await api.app.listen(0, '127.0.0.1');
  const { port } = api.app.getHttpServer().address() as { port: number };
  const socket = connect(port, '127.0.0.1');
  try {
    await once(socket, 'connect');
    if (sent) await new Promise((resolve) => socket.write(sent, resolve));
    // the server has accepted it by the time that it has answered somebody who came later
    await fetch(`http://127.0.0.1:${port}/health/live`);
    expect(await Promise.race([api.close().then(() => 'closed'), pause(10_000, 'still open')])).toBe('closed');
  } finally {
    socket.destroy();
  }
});
