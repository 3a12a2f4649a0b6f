import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Controller, Get, Param, Res } from '@nestjs/common';
import { ApiExcludeController } from '@nestjs/swagger';
import type { FastifyReply } from 'fastify';
import { notFound } from '../platform/problem.js';
import { PROJECT_FOLDER } from '../platform/project-folder.js';

const ASSETS = join(PROJECT_FOLDER, 'src/ui/assets');
const HTMX = join(PROJECT_FOLDER, 'node_modules/htmx.org/dist/htmx.min.js');

/** Everything a page may load, read once: nothing is asked from outside, and no path is made from what was asked for. */
const FILES = new Map<string, { type: string; body: Buffer }>(
  (
    [
      ['style.css', 'text/css', join(ASSETS, 'style.css')],
      ['mark.svg', 'image/svg+xml', join(ASSETS, 'mark.svg')],
      ['week.js', 'text/javascript', join(ASSETS, 'week.js')],
      ['busy.js', 'text/javascript', join(ASSETS, 'busy.js')],
      ['keys.js', 'text/javascript', join(ASSETS, 'keys.js')],
      ['codes.js', 'text/javascript', join(ASSETS, 'codes.js')],
      ['copy.js', 'text/javascript', join(ASSETS, 'copy.js')],
      ['unsent.js', 'text/javascript', join(ASSETS, 'unsent.js')],
      ['htmx.js', 'text/javascript', HTMX],
    ] as const
  ).map(([name, type, path]) => [name, { type: `${type}; charset=utf-8`, body: readFileSync(path) }]),
);

@ApiExcludeController()
@Controller('assets')
export class AssetsController {
  @Get(':name')
  get(@Param('name') name: string, @Res() reply: FastifyReply): void {
    const file = FILES.get(name);
    if (!file) throw notFound('file', name);
    void reply.header('cache-control', 'public, max-age=300').type(file.type).send(file.body);
  }
}
