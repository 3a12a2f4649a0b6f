import { Readable } from 'node:stream';
import { Body, Controller, Get, Param, Post, Query, Req, Res } from '@nestjs/common';
import { ApiBody, ApiConsumes, ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { Who } from '../platform/person.js';
import { Problem } from '../platform/problem.js';
import { idParam } from '../platform/schema.js';
import {
  complaintCode,
  complaintCreate,
  complaintPage,
  complaintPhoto,
  complaintQuery,
  complaintView,
  entryCreate,
  suspicionQuery,
  suspicionView,
} from './complaint.schema.js';
import type {
  ComplaintCreate,
  ComplaintPage,
  ComplaintPhoto,
  ComplaintQuery,
  ComplaintView,
  EntryCreate,
  SuspicionQuery,
  SuspicionView,
} from './complaint.schema.js';
import { ComplaintsService } from './complaints.service.js';
import { SuspicionService } from './suspicion.service.js';

const PICTURE = Object.fromEntries(
  ['image/jpeg', 'image/png', 'image/webp'].map((type) => [type, { schema: { type: 'string', format: 'binary' } }]),
);

@ApiTags('trace')
@Controller('api')
export class ComplaintsController {
  constructor(
    private readonly complaints: ComplaintsService,
    private readonly suspicions: SuspicionService,
  ) {}

  @Get('complaints')
  @ApiOperation({ summary: 'Complaints by code, one page at a time' })
  @ApiOkResponse({ standardSchema: complaintPage })
  list(@Query({ schema: complaintQuery }) query: ComplaintQuery): Promise<ComplaintPage> {
    return this.complaints.list(query);
  }

  @Post('complaints')
  @ApiOperation({ summary: 'Write down what a customer reported' })
  @ApiCreatedResponse({ standardSchema: complaintView })
  create(@Who() who: string, @Body({ schema: complaintCreate }) body: ComplaintCreate): Promise<ComplaintView> {
    return this.complaints.create(who, body);
  }

  @Get('complaints/:code')
  @ApiOperation({ summary: 'One complaint, with what was done about it and what to do first' })
  @ApiOkResponse({ standardSchema: complaintView })
  get(@Param('code', { schema: complaintCode }) code: string): Promise<ComplaintView> {
    return this.complaints.get(code);
  }

  @Post('complaints/:code/entries')
  @ApiOperation({ summary: 'Add a note, an answer, advice, a day, the lot it turned out to be, or the outcome' })
  @ApiCreatedResponse({ standardSchema: complaintView })
  add(
    @Who() who: string,
    @Param('code', { schema: complaintCode }) code: string,
    @Body({ schema: entryCreate }) body: EntryCreate,
  ): Promise<ComplaintView> {
    return this.complaints.add(who, code, body);
  }

  @Post('complaints/:code/photos')
  @ApiOperation({ summary: 'Add a photo' })
  @ApiConsumes('image/jpeg', 'image/png', 'image/webp')
  @ApiBody({ schema: { type: 'string', format: 'binary' }, description: 'A JPEG, PNG or WebP picture up to 10 MB' })
  @ApiCreatedResponse({ standardSchema: complaintPhoto })
  addPhoto(
    @Who() who: string,
    @Param('code', { schema: complaintCode }) code: string,
    @Req() request: FastifyRequest,
  ): Promise<ComplaintPhoto> {
    return this.complaints.addPhoto(who, code, pictureOf(request));
  }

  @Get('complaint-photos/:id')
  @ApiOperation({ summary: 'A photo' })
  @ApiOkResponse({ content: PICTURE })
  async photo(@Param('id', { schema: idParam }) id: number, @Res({ passthrough: true }) reply: FastifyReply) {
    const { bytes, type } = await this.complaints.photo(id);
    void reply.headers({
      'content-type': type,
      'content-security-policy': "default-src 'none'; sandbox",
      'x-content-type-options': 'nosniff',
      'cache-control': 'private, max-age=31536000, immutable',
    });
    return bytes;
  }

  @Get('trace/suspicion')
  @ApiOperation({ summary: 'Which single sources would explain several complaints' })
  @ApiOkResponse({ standardSchema: suspicionView })
  suspicion(@Query({ schema: suspicionQuery }) query: SuspicionQuery): Promise<SuspicionView> {
    return this.suspicions.suspicion(query);
  }
}

function pictureOf(request: FastifyRequest): Readable {
  const isForm = request.headers['content-type']?.startsWith('multipart/') ?? false;
  if (request.body instanceof Readable && !isForm) return request.body;
  throw new Problem({ status: 415, code: 'unsupported-media-type', detail: 'Send the picture itself as the body.' });
}
