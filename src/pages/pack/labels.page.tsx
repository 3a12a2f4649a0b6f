import { Get, Param, Post, Query, Req, Res } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { pdfHeaders } from '../../platform/pdf.js';
import { invalid } from '../../platform/problem.js';
import { lineOfText } from '../../platform/schema.js';
import { BenchRulesService } from '../../checks/bench-rules.service.js';
import { originOf } from '../../labels/labels.controller.js';
import { allergensPut, itemLabelPut, labelPdfQuery } from '../../labels/labels.schema.js';
import { LabelsService } from '../../labels/labels.service.js';
import { blankIsNone, bodyOf, faultOf, goTo, linesIn, type Sent, TextField, written } from '../../ui/form.js';
import { type LabelForm, LabelPage, type LabelProps, LABELS_SAID, labelsAddress } from './label-view.js';
import { Page } from '../../ui/layout.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const lotPath = z.strictObject({ lot: lineOfText(80) });
type LotPath = z.infer<typeof lotPath>;
const lotQuery = z.strictObject({ lot: blankIsNone(lineOfText(80)) });
const saidQuery = z.strictObject({ said: z.enum(LABELS_SAID).optional(), from: lineOfText(80).optional() });
const printQuery = z.record(z.string().max(40), z.string().max(200));

/** What stands on labels, and labels to print. */
@PageController('labels')
export class LabelsPage {
  constructor(
    private readonly labels: LabelsService,
    private readonly rules: BenchRulesService,
  ) {}

  @Get()
  choose(
    @Query({ schema: lotQuery }) { lot }: z.infer<typeof lotQuery>,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    return lot === undefined ? <ChooseLot /> : goTo(reply, labelsAddress(lot));
  }

  @Get(':lot')
  async show(
    @Param({ schema: lotPath }) { lot }: LotPath,
    @Query({ schema: saidQuery }) { said, from }: z.infer<typeof saidQuery>,
    @Req() request: FastifyRequest,
  ) {
    return <LabelPage {...await this.seen(lot, request)} said={said} from={from} />;
  }

  /** The same as the API's, but what is wrong with it is said on the page. */
  @Get(':lot/labels.pdf')
  async print(
    @Param({ schema: lotPath }) { lot }: LotPath,
    @Query({ schema: printQuery }) asked: Sent,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    try {
      const { sheet, width, height, skip, ...rest } = asked;
      const query = bodyOf(labelPdfQuery, sheet === 'single' ? { ...rest, width, height } : { ...rest, sheet, skip });
      const bytes = await this.labels.pdf(lot, originOf(request), query);
      void reply.headers(pdfHeaders(`labels-${lot}`));
      return bytes;
    } catch (error) {
      const fault = faultOf(error, reply);
      // of a query that was read here the pointers lack where they point into
      const named = Object.fromEntries(
        Object.entries(fault.fields).map(([at, text]) => [at.startsWith('query/') ? at : `query/${at}`, text]),
      );
      const refused = { form: 'print' as const, sent: asked, fault: { ...fault, fields: named } };
      return <LabelPage {...await this.seen(lot, request)} refused={refused} />;
    }
  }

  @Post(':lot/stated')
  state(@Filled(lotPath) { who, path: { lot }, sent, reply }: Filled<typeof lotPath>, @Req() request: FastifyRequest) {
    return this.act({ lot, form: 'stated', sent, request, reply }, async ({ label }) => {
      const months = written(sent, 'openedMonths');
      const body = bodyOf(itemLabelPut, {
        printedName: sent['printedName'] ?? '',
        net: written(sent, 'net') ?? null,
        allowedShort: written(sent, 'allowedShort') ?? null,
        openedMonths: months === undefined ? null : Number(months),
        contact: written(sent, 'contact'),
        cautions: linesIn(sent, 'cautions'),
        maker: sent['maker'] ?? '',
      });
      await this.labels.putItemLabel(who, label.item, body);
    });
  }

  @Post(':lot/allergens')
  allergens(
    @Filled(lotPath) { who, path: { lot }, sent, reply }: Filled<typeof lotPath>,
    @Req() request: FastifyRequest,
  ) {
    return this.act({ lot, form: 'allergens', sent, request, reply }, async () => {
      const [source, dated] = [written(sent, 'source'), written(sent, 'dated')];
      const rows = linesIn(sent, 'allergens').map((line, at) => {
        const [, name, part] = /^(.+?)[\s;:,]+(\d+(?:\.\d+)?\s*%?)$/.exec(line) ?? [];
        if (!name) throw invalid(`/allergens/${at}`, `Write a name and a percentage: "${line}" is not both.`);
        return { name, part, source, dated };
      });
      await this.labels.putAllergens(who, written(sent, 'id') ?? '', bodyOf(allergensPut, { allergens: rows }));
    });
  }

  private async act(
    asked: { lot: string; form: Exclude<LabelForm, 'print'>; sent: Sent; request: FastifyRequest; reply: FastifyReply },
    work: (seen: LabelProps) => Promise<void>,
  ) {
    const { lot, form, sent, request, reply } = asked;
    const from = written(sent, 'from');
    const seen = { ...(await this.seen(lot, request)), from };
    try {
      await work(seen);
      return goTo(reply, labelsAddress(lot), { said: form, ...(from !== undefined && { from }) });
    } catch (error) {
      return <LabelPage {...seen} refused={{ form, sent, fault: faultOf(error, reply) }} />;
    }
  }

  private async seen(lot: string, request: FastifyRequest): Promise<LabelProps> {
    const label = await this.labels.label(lot, originOf(request));
    const { labelSheets } = await this.labels.sheets();
    return {
      label,
      stated: await this.labels.itemLabel(label.item),
      sheets: labelSheets,
      rules: await this.rules.get(),
      allergens: await this.labels.allergensKnown(label.ingredients),
    };
  }
}

function ChooseLot(): JSX.Element {
  return (
    <Page title="Labels" at="/pick">
      <h1>Labels</h1>
      <form method="get" action="/labels">
        <TextField name="lot" form="labels" label="Of which lot" hint="Scan or type its code" required maxlength={80} />
        <p>
          <button type="submit" class="main">
            Show its label
          </button>
        </p>
      </form>
    </Page>
  );
}
