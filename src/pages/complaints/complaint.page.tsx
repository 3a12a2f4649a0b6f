import { Readable } from 'node:stream';
import { Get, Param, Post, Query, Req, Res } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { ChannelsService } from '../../orders/channels.service.js';
import { Who } from '../../platform/person.js';
import { invalid } from '../../platform/problem.js';
import { complaintCode, complaintCreate, entryCreate } from '../../trace/complaint.schema.js';
import { ComplaintsService } from '../../trace/complaints.service.js';
import { SuspicionService } from '../../trace/suspicion.service.js';
import { ComplaintList } from './complaint-list.js';
import { ComplaintPaper, type Refused } from './complaint-view.js';
import { bodyOf, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { readUploadForm } from '../../ui/upload-form.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const complaintPath = z.strictObject({ code: complaintCode });
type ComplaintPath = z.infer<typeof complaintPath>;
/** What is known already where a link leads here: the form begins with it. */
const givenQuery = z.strictObject({
  lot: z.string().max(500).default(''),
  channel: z.string().max(80).default(''),
  number: z.string().max(80).default(''),
});
const SHOWN_MAX = 1000;
/** Open complaints are compared with what was sold within two years. */
const COMPARED_DAYS = 730;

/** What customers report, and what several reports may have in common. */
@PageController('complaints')
export class ComplaintPage {
  constructor(
    private readonly complaints: ComplaintsService,
    private readonly suspicions: SuspicionService,
    private readonly channels: ChannelsService,
  ) {}

  @Get()
  list(@Query({ schema: givenQuery }) given: z.infer<typeof givenQuery>) {
    return this.listed(undefined, given);
  }

  @Post()
  async create(@Filled() { who, sent, reply }: Filled) {
    try {
      const number = written(sent, 'number');
      const body = bodyOf(complaintCreate, {
        description: written(sent, 'description') ?? '',
        harm: written(sent, 'harm'),
        harmed: written(sent, 'harm') === 'none' ? undefined : written(sent, 'harmed'),
        reportedOn: written(sent, 'reportedOn'),
        happenedOn: written(sent, 'happenedOn'),
        lot: written(sent, 'lot'),
        order: number === undefined ? undefined : { channel: written(sent, 'channel') ?? '', number },
        reporter: written(sent, 'reporter'),
        contact: written(sent, 'contact'),
      });
      const { code } = await this.complaints.create(who, body);
      return goTo(reply, `/complaints/${code}`);
    } catch (error) {
      return this.listed({ form: 'new', sent, fault: faultOf(error, reply) });
    }
  }

  @Get(':code')
  async show(@Param({ schema: complaintPath }) { code }: ComplaintPath) {
    return <ComplaintPaper complaint={await this.complaints.get(code)} />;
  }

  @Post(':code/entry')
  entry(@Filled(complaintPath) { who, path: { code }, sent, reply }: Filled<typeof complaintPath>) {
    return this.add(
      { who, code, form: 'entry', sent, reply },
      { kind: sent['kind'], text: written(sent, 'text') ?? '' },
    );
  }

  @Post(':code/lot')
  lot(@Filled(complaintPath) { who, path: { code }, sent, reply }: Filled<typeof complaintPath>) {
    return this.add({ who, code, form: 'lot', sent, reply }, { kind: 'lot', lot: written(sent, 'lot') });
  }

  @Post(':code/due')
  due(@Filled(complaintPath) { who, path: { code }, sent, reply }: Filled<typeof complaintPath>) {
    return this.add({ who, code, form: 'due', sent, reply }, { kind: 'due', dueOn: written(sent, 'dueOn') });
  }

  @Post(':code/photo')
  async photo(
    @Who() who: string,
    @Param({ schema: complaintPath }) { code }: ComplaintPath,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    try {
      const { file } = await readUploadForm(request);
      if (!file) throw invalid('/photo', 'Choose a picture first.');
      await this.complaints.addPhoto(who, code, Readable.from(file.content));
      return goTo(reply, `/complaints/${code}`);
    } catch (error) {
      const fault = faultOf(error, reply);
      return (
        <ComplaintPaper complaint={await this.complaints.get(code)} refused={{ form: 'photo', sent: {}, fault }} />
      );
    }
  }

  private async add(
    { who, code, form, sent, reply }: { who: string; code: string; form: string; sent: Sent; reply: FastifyReply },
    body: unknown,
  ) {
    try {
      await this.complaints.add(who, code, bodyOf(entryCreate, body));
      return goTo(reply, `/complaints/${code}`);
    } catch (error) {
      const fault = faultOf(error, reply);
      return <ComplaintPaper complaint={await this.complaints.get(code)} refused={{ form, sent, fault }} />;
    }
  }

  private async listed(refused?: Refused, given?: Sent) {
    const open = await this.complaints.list({ status: 'open', limit: SHOWN_MAX });
    const closed = await this.complaints.list({ status: 'closed', limit: SHOWN_MAX });
    const suspicion = await this.suspicions.suspicion({ days: COMPARED_DAYS });
    const { channels } = await this.channels.list();
    return (
      <ComplaintList
        open={[...open.complaints].reverse()}
        closed={[...closed.complaints].reverse()}
        suspicion={suspicion}
        channels={channels.map(({ code, name }) => [code, name] as const)}
        refused={refused}
        given={given}
      />
    );
  }
}
