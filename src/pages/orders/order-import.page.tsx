import { Body, Get, HttpCode, Param, Post, Req, Res } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { ItemsService } from '../../catalog/items.service.js';
import { ChannelsService } from '../../orders/channels.service.js';
import { type ColumnMap, ROLES } from '../../orders/columns.js';
import { DATE_ORDERS } from '../../orders/order-dates.js';
import { type OrderFile, OrderFilesService, type Reading } from '../../orders/order-files.service.js';
import { channelCode, shopCodeSet } from '../../orders/orders.schema.js';
import { Who } from '../../platform/person.js';
import { invalid } from '../../platform/problem.js';
import { problemOf } from '../../platform/problem-filter.js';
import { idParam } from '../../platform/schema.js';
import { CODES_MAX } from '../../ui/codes-list.js';
import { ChannelForm } from './elsewhere/channel-form.js';
import { blankIsNone, bodyOf, type Fault, faultOf, goTo, type Sent, written, sayOf } from '../../ui/form.js';
import { ChooseFile, FileSeen, FileTaken, FileUnderWay, FileUnread } from './import-views.js';
import { Page } from '../../ui/layout.js';
import { readUploadForm } from '../../ui/upload-form.js';
import { Filled, PageController } from '../../ui/page-controller.js';

/** Most files are through by then, so that no page in between is seen. */
const WAIT_MS = 700;
const UNDER_WAY = new Set(['taken', 'being-read']);

const filePath = z.strictObject({ id: idParam });
type FilePath = z.infer<typeof filePath>;
const readAs = z.object({
  channel: blankIsNone(channelCode),
  dates: blankIsNone(z.enum(DATE_ORDERS)),
});

/** Bringing in a shop's file: choose it, look at what it would do, map what is unknown, take it. */
@PageController()
export class OrderImportPage {
  constructor(
    private readonly files: OrderFilesService,
    private readonly channels: ChannelsService,
    private readonly items: ItemsService,
  ) {}

  @Get('orders/import')
  choose() {
    return this.chooseView({}, undefined);
  }

  @Post('orders/import')
  @HttpCode(200)
  async upload(@Who() who: string, @Req() request: FastifyRequest, @Res({ passthrough: true }) reply: FastifyReply) {
    const { sent, file } = await readUploadForm(request);
    try {
      const { channel, dates } = bodyOf(readAs, sent);
      const pasted = written(sent, 'text');
      if (!file && pasted === undefined) throw invalid('/file', 'Choose a file, or paste its rows.');
      const name = file ? file.name.slice(-200) || 'file' : 'pasted rows';
      const stream = [file ? file.content : Buffer.from(pasted!)];
      const id = await this.files.keep(who, {
        name,
        stream: each(stream),
        channel: channel ?? null,
        dates: dates ?? null,
      });
      return goTo(reply, `/order-files/${id}`);
    } catch (error) {
      return this.chooseView(sent, faultOf(error, reply));
    }
  }

  @Get('order-files/:id')
  async show(@Who() who: string, @Param({ schema: filePath }) { id }: FilePath) {
    return this.fileView(who, id, {}, undefined);
  }

  @Post('order-files/:id/settings')
  @HttpCode(200)
  async set(@Filled(filePath) { who, path: { id }, sent, reply }: Filled<typeof filePath>) {
    const { channel, dates } = bodyOf(readAs, sent);
    const columnMap: ColumnMap = {};
    for (const role of ROLES) if (sent[`map/${role}`] !== undefined) columnMap[role] = sent[`map/${role}`]!.trim();
    await this.files.set(who, id, { channel: channel ?? null, dates: dates ?? null, columnMap });
    return goTo(reply, `/order-files/${id}`);
  }

  /** Says what unknown codes stand for, then the file is looked at again. */
  @Post('order-files/:id/codes')
  @HttpCode(200)
  async map(@Filled(filePath) { who, path: { id }, sent, reply }: Filled<typeof filePath>) {
    const rows = Object.keys(sent)
      .map((name) => /^codes\/(\d+)\/item$/.exec(name)?.[1])
      .filter((row): row is string => row !== undefined && written(sent, `codes/${row}/item`) !== undefined);
    try {
      if (rows.length === 0) throw invalid('', 'Say of at least one code what it stands for.');
      const codes = bodyOf(
        z.array(shopCodeSet),
        rows.map((row) => shopCodeOf(sent, row)),
      );
      await this.channels.setShopCodes(who, codes);
      this.files.lookAgain(id);
      return goTo(reply, `/order-files/${id}`);
    } catch (error) {
      const fault = faultOf(error, reply);
      const fields = Object.entries(fault.fields).map(([place, detail]): [string, string] => [
        place.replace(/^(\d+)\//, (_, at: string) => `codes/${rows[Number(at)]}/`),
        detail,
      ]);
      return this.fileView(who, id, sent, { ...fault, fields: Object.fromEntries(fields) });
    }
  }

  @Post('order-files/:id/take')
  @HttpCode(200)
  async take(
    @Who() who: string,
    @Param({ schema: filePath }) { id }: FilePath,
    @Body({ schema: z.strictObject({ take: z.enum(['all', 'good']) }) }) { take }: { take: 'all' | 'good' },
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    try {
      await this.files.take(who, id, take);
    } catch (error) {
      // tapped twice: its page shows how it stands with what was begun
      if (!UNDER_WAY.has(problemOf(error).code)) throw error;
    }
    return goTo(reply, `/order-files/${id}`);
  }

  @Post('order-files/:id/discard')
  @HttpCode(200)
  async discard(@Filled(filePath) { who, path: { id }, reply }: Filled<typeof filePath>) {
    await this.files.discard(who, id);
    return goTo(reply, '/orders/import');
  }

  private async chooseView(sent: Sent, fault: Fault | undefined) {
    const { channels } = await this.channels.list();
    if (channels.length > 0) return <ChooseFile sent={sent} fault={fault} channels={channels} />;
    return (
      <Page title="Bring in a file" at="/orders">
        <h1>Where do orders come from?</h1>
        <p>A file belongs to a channel: a shop, a market stall, cafés that resell. Name the first one.</p>
        <ChannelForm then="/orders/import" />
      </Page>
    );
  }

  private async fileView(who: string, id: number, sent: Sent, fault: Fault | undefined) {
    const file = await this.files.get(id);
    if (file.report) return <FileTaken name={file.name} report={file.report} />;
    const reading = await this.files.reading(who, file, WAIT_MS);
    return this.readingView(file, reading, sent, fault);
  }

  private async readingView(
    file: OrderFile,
    { kind, rowsRead, outcome }: Reading,
    sent: Sent,
    fault: Fault | undefined,
  ) {
    if (!outcome) return <FileUnderWay file={file} kind={kind} rowsRead={rowsRead} />;
    const { report, problem } = outcome;
    if (kind === 'take' && report && !problem) return <FileTaken name={file.name} report={report} />;
    const { channels } = await this.channels.list();
    if (!report) return <FileUnread file={file} problem={problem!} channels={channels} />;
    const products = report.unknownCodeCount > 0 ? await this.items.list({ kind: 'product', limit: CODES_MAX }) : null;
    const refused = problem && { ...sayOf(problem), fields: {} };
    return (
      <FileSeen
        file={file}
        report={report}
        channels={channels}
        sold={products?.items ?? []}
        sent={sent}
        fault={fault ?? refused}
      />
    );
  }
}

async function* each(parts: readonly Buffer[]): AsyncGenerator<Buffer> {
  yield* parts;
}

function shopCodeOf(sent: Sent, row: string): unknown {
  const units = written(sent, `codes/${row}/units`);
  return {
    channel: sent[`codes/${row}/channel`] ?? '',
    code: sent[`codes/${row}/code`] ?? '',
    item: written(sent, `codes/${row}/item`)!.toUpperCase(),
    units: units === undefined ? 1 : Number(units),
  };
}
