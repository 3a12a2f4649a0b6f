import type { IncomingMessage, ServerResponse } from 'node:http';
import type { Socket } from 'node:net';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { FastifyReply, FastifyRequest } from 'fastify';

/** Whoever is still being answered then is cut off: what was not written in the end was never begun. */
const ANSWER_MS_MAX = 5000;

/**
 * Lets the server close. A connection that is being answered ends with that answer. One that asks nothing is cut off, also
 * one that never did: browsers open some in reserve, and the server would wait for them without end.
 */
export function closeInTime(app: NestFastifyApplication): void {
  const http = app.getHttpServer();
  const open = new Set<Socket>();
  const answering = new Map<ServerResponse, Socket>();
  http.on('connection', (socket: Socket) => {
    open.add(socket);
    socket.once('close', () => open.delete(socket));
  });
  http.on('request', (request: IncomingMessage, response: ServerResponse) => {
    answering.set(response, request.socket);
    response.once('close', () => answering.delete(response));
  });
  const server = app.getHttpAdapter().getInstance();
  let isClosing = false;
  server.addHook('preClose', async () => {
    isClosing = true;
    const busy = new Set(answering.values());
    for (const socket of open) if (!busy.has(socket)) socket.destroy();
    setTimeout(() => http.closeAllConnections(), ANSWER_MS_MAX).unref();
  });
  // it would be kept for the client's next request otherwise
  server.addHook('onSend', async (_: FastifyRequest, reply: FastifyReply) => {
    if (isClosing) void reply.header('connection', 'close');
  });
}
