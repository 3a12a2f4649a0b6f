import { Injectable } from '@nestjs/common';
import type { CallHandler, ExecutionContext, NestInterceptor } from '@nestjs/common';
import type { FastifyRequest } from 'fastify';
import { map, Observable } from 'rxjs';
import { WorkshopService } from '../catalog/workshop.service.js';
import { isForPrograms } from '../platform/problem-filter.js';
import { withFieldNames } from '../ui/field-names.js';
import { drawFor } from '../ui/page-workshop.js';

/** Reads the workshop once for each page, so that no page has to hand it through all its parts. */
@Injectable()
export class WorkshopOfPage implements NestInterceptor {
  constructor(private readonly workshop: WorkshopService) {}

  async intercept(context: ExecutionContext, next: CallHandler): Promise<Observable<unknown>> {
    if (isForPrograms(context.switchToHttp().getRequest<FastifyRequest>().url)) return next.handle();
    const workshop = await this.workshop.get();
    return new Observable((subscriber) =>
      drawFor(workshop, () => next.handle().pipe(map(named)).subscribe(subscriber)),
    );
  }
}

const named = (page: unknown): unknown => (typeof page === 'string' ? withFieldNames(page) : page);
