import { Readable } from 'node:stream';
import { Body, Controller, Get, Param, Post, Put, Req, Res } from '@nestjs/common';
import { ApiBody, ApiConsumes, ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { Who } from '../platform/person.js';
import { Problem } from '../platform/problem.js';
import { idParam, lineOfText } from '../platform/schema.js';
import { BenchRulesService } from './bench-rules.service.js';
import type { CheckKind } from './check-kinds.js';
import {
  benchRulesPut,
  benchRulesView,
  checkCreate,
  checkKind,
  checkKindCode,
  checkKindList,
  checkKindPut,
  checkPhoto,
  checksView,
} from './checks.schema.js';
import type {
  BenchRules,
  BenchRulesPut,
  CheckCreate,
  CheckKindList,
  CheckKindPut,
  CheckPhoto,
  ChecksView,
} from './checks.schema.js';
import { ChecksService } from './checks.service.js';

const batchCode = lineOfText(80);

const PICTURE = Object.fromEntries(
  ['image/jpeg', 'image/png', 'image/webp'].map((type) => [type, { schema: { type: 'string', format: 'binary' } }]),
);

@ApiTags('checks')
@Controller('api')
export class ChecksController {
  constructor(
    private readonly checks: ChecksService,
    private readonly rules: BenchRulesService,
  ) {}

  @Get('batches/:code/checks')
  @ApiOperation({ summary: 'What is checked of a batch, what was found, and what is missing for its release' })
  @ApiOkResponse({ standardSchema: checksView })
  list(@Param('code', { schema: batchCode }) code: string): Promise<ChecksView> {
    return this.checks.checks(code);
  }

  @Post('batches/:code/checks')
  @ApiOperation({ summary: 'Write down what was found' })
  @ApiCreatedResponse({ standardSchema: checksView })
  check(
    @Who() who: string,
    @Param('code', { schema: batchCode }) code: string,
    @Body({ schema: checkCreate }) body: CheckCreate,
  ): Promise<ChecksView> {
    return this.checks.check(who, code, body);
  }

  @Post('batches/:code/checks/:id/photos')
  @ApiOperation({ summary: 'Add a photo to what was found' })
  @ApiConsumes('image/jpeg', 'image/png', 'image/webp')
  @ApiBody({ schema: { type: 'string', format: 'binary' }, description: 'A JPEG, PNG or WebP picture up to 10 MB' })
  @ApiCreatedResponse({ standardSchema: checkPhoto })
  addPhoto(
    @Who() who: string,
    @Param('code', { schema: batchCode }) code: string,
    @Param('id', { schema: idParam }) id: number,
    @Req() request: FastifyRequest,
  ): Promise<CheckPhoto> {
    return this.checks.addPhoto(who, code, id, pictureOf(request));
  }

  @Get('check-photos/:id')
  @ApiOperation({ summary: 'A photo' })
  @ApiOkResponse({ content: PICTURE })
  async photo(@Param('id', { schema: idParam }) id: number, @Res({ passthrough: true }) reply: FastifyReply) {
    const { bytes, type } = await this.checks.photo(id);
    void reply.headers({
      'content-type': type,
      'content-disposition': `inline; filename="check-${id}.${type.slice(6)}"`,
      'content-security-policy': "default-src 'none'; sandbox",
      'x-content-type-options': 'nosniff',
      // under one address always the same picture, for whoever may ask for it
      'cache-control': 'private, max-age=31536000, immutable',
    });
    return bytes;
  }

  @Get('check-kinds')
  @ApiOperation({ summary: 'What is checked, by family' })
  @ApiOkResponse({ standardSchema: checkKindList })
  kinds(): Promise<CheckKindList> {
    return this.rules.kinds();
  }

  @Put('check-kinds/:code')
  @ApiOperation({ summary: 'Set the limits of a check, or add one' })
  @ApiOkResponse({ standardSchema: checkKind })
  putKind(
    @Who() who: string,
    @Param('code', { schema: checkKindCode }) code: string,
    @Body({ schema: checkKindPut }) body: CheckKindPut,
  ): Promise<CheckKind> {
    return this.rules.putKind(who, code, body);
  }

  @Get('bench-rules')
  @ApiOperation({ summary: 'By which rules contents are judged and labels are written' })
  @ApiOkResponse({ standardSchema: benchRulesView })
  benchRules(): Promise<BenchRules> {
    return this.rules.get();
  }

  @Put('bench-rules')
  @ApiOperation({ summary: 'Set all of them' })
  @ApiOkResponse({ standardSchema: benchRulesView })
  putBenchRules(@Who() who: string, @Body({ schema: benchRulesPut }) body: BenchRulesPut): Promise<BenchRules> {
    return this.rules.put(who, body);
  }
}

function pictureOf(request: FastifyRequest): Readable {
  const isForm = request.headers['content-type']?.startsWith('multipart/') ?? false;
  if (request.body instanceof Readable && !isForm) return request.body;
  throw new Problem({ status: 415, code: 'unsupported-media-type', detail: 'Send the picture itself as the body.' });
}
