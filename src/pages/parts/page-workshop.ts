import { AsyncLocalStorage } from 'node:async_hooks';
import { Injectable } from '@nestjs/common';
import type { CallHandler, ExecutionContext, NestInterceptor } from '@nestjs/common';
import type { FastifyRequest } from 'fastify';
import { Observable } from 'rxjs';
import type { WorkshopView } from '../../catalog/workshop.schema.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { isForPrograms } from '../../platform/problem-filter.js';

const held = new AsyncLocalStorage<WorkshopView>();

/** The workshop whose page is being drawn: its name stands above it, and its units are those of every weight. */
export const pageWorkshop = (): WorkshopView | undefined => held.getStore();

/** Reads the workshop once for each page, so that no page has to hand it through all its parts. */
@Injectable()
export class PageWorkshop implements NestInterceptor {
  constructor(private readonly workshop: WorkshopService) {}

  async intercept(context: ExecutionContext, next: CallHandler): Promise<Observable<unknown>> {
    if (isForPrograms(context.switchToHttp().getRequest<FastifyRequest>().url)) return next.handle();
    const workshop = await this.workshop.get();
    return new Observable((subscriber) => held.run(workshop, () => next.handle().subscribe(subscriber)));
  }
}
