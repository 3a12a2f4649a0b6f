import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import type { Piscina } from 'piscina';
import { PlanningThreads } from '../../src/planning/threads/planning-threads.js';

interface Own {
  isOver: boolean;
  start(): Promise<Piscina>;
}

let shared: Promise<Piscina> | undefined;

/**
 * A thread takes half a second to start, and longer until it plans fast: all servers of a process, each of which lives for
 * one test or file, ask the same.
 */
export function shareThreads(app: NestFastifyApplication): void {
  const own = app.get<unknown, Own>(PlanningThreads);
  const start = own.start.bind(own);
  Object.assign(own, {
    start: () => (shared ??= start()),
    onApplicationShutdown: () => void (own.isOver = true),
  });
}
