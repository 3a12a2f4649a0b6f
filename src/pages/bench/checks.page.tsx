import { Readable } from 'node:stream';
import { Get, HttpCode, Param, Post, Query, Req, Res } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Clock } from '../../platform/clock.js';
import { Who } from '../../platform/person.js';
import { invalid, notFound } from '../../platform/problem.js';
import { idParam, lineOfText } from '../../platform/schema.js';
import { checkCreate, checkKindCode, type ChecksView } from '../../checks/checks.schema.js';
import { BenchService } from '../../bench/bench.service.js';
import { ChecksService } from '../../checks/checks.service.js';
import { type KeptSample, sampleCreate } from '../../checks/samples.schema.js';
import { SamplesService } from '../../checks/samples.service.js';
import { sampleText } from './batch-words.js';
import { CheckForm, type CheckFormProps } from './check-form.js';
import {
  bodyOf,
  type Fault,
  faultOf,
  FaultNote,
  goTo,
  type Sent,
  TextField,
  written,
  writtenAmount,
} from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { readUploadForm } from '../../ui/upload-form.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const batchPath = z.strictObject({ code: lineOfText(80) });
type BatchPath = z.infer<typeof batchPath>;
const resultPath = batchPath.extend({ id: idParam });
const SAID = {
  kept: 'The sample is kept.',
  photo: 'The photo is added.',
  discarded: 'It is written down that the sample is thrown away.',
};
const saidQuery = z.strictObject({
  said: z.union([checkKindCode, z.enum(Object.keys(SAID) as [keyof typeof SAID])]).optional(),
});

interface Seen {
  checks: ChecksView;
  /** What it made, whose label is judged by: null before it is finished. */
  lot: string | null;
  samples: KeptSample[];
  today: string;
  said?: string;
  refused?: CheckFormProps['refused'];
  /** The sample that was refused. */
  sample?: { sent: Sent; fault: Fault };
  /** Why a sample could not be thrown away. */
  discard?: Fault;
}

/** What was found out about a batch, and what is kept of it. */
@PageController('batches/:code')
export class ChecksPage {
  constructor(
    private readonly checks: ChecksService,
    private readonly samples: SamplesService,
    private readonly bench: BenchService,
    private readonly clock: Clock,
  ) {}

  @Get('checks')
  async show(
    @Param({ schema: batchPath }) { code }: BatchPath,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return <ChecksPageView {...await this.seen(code)} said={said} />;
  }

  @Post('checks')
  async check(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    const kind = sent['kind'] ?? '';
    try {
      refuseBlank(sent);
      const body = bodyOf(checkCreate, {
        kind,
        value: written(sent, 'value'),
        choice: written(sent, 'choice'),
        weights: written(sent, 'weights')
          ?.split(/[\n;]+/)
          .map((weight) => weight.trim())
          .filter((weight) => weight !== '')
          .map((weight) => writtenAmount(weight, true)),
        tare: sent['tare']?.trim() ? writtenAmount(written(sent, 'tare'), true) : undefined,
        note: written(sent, 'note'),
      });
      await this.checks.check(who, code, body);
      return goTo(reply, addressOf(code), { said: body.kind });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <ChecksPageView {...await this.seen(code)} refused={{ kind, sent, fault }} />;
    }
  }

  @Post('checks/:id/photo')
  @HttpCode(200)
  async addPhoto(
    @Who() who: string,
    @Param({ schema: resultPath }) { code, id }: z.infer<typeof resultPath>,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const { file } = await readUploadForm(request);
    if (!file) throw invalid('/photo', 'Choose a picture first.');
    await this.checks.addPhoto(who, code, id, Readable.from([file.content]));
    return goTo(reply, addressOf(code), { said: 'photo' });
  }

  @Post('samples')
  async keep(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    try {
      const body = bodyOf(sampleCreate, {
        quantity: written(sent, 'quantity') ?? '',
        place: written(sent, 'place'),
        discardOn: written(sent, 'discardOn'),
      });
      await this.samples.keep(who, code, body);
      return goTo(reply, addressOf(code), { said: 'kept' });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <ChecksPageView {...await this.seen(code)} sample={{ sent, fault }} />;
    }
  }

  /** Once: said again, the page shows it as it is. */
  @Post('samples/:id/discard')
  async discard(@Filled(resultPath) { who, path: { code, id }, reply }: Filled<typeof resultPath>) {
    try {
      const { samples } = await this.samples.ofBatch(code);
      if (!samples.some((sample) => sample.id === id)) throw notFound('kept sample with id', id);
      await this.samples.discard(who, id, {});
      return goTo(reply, addressOf(code), { said: 'discarded' });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <ChecksPageView {...await this.seen(code)} discard={fault} />;
    }
  }

  private async seen(code: string): Promise<Seen> {
    const checks = await this.checks.checks(code);
    const { samples } = await this.samples.ofBatch(code);
    const { lot } = await this.bench.get(code);
    return { checks, samples, lot, today: await this.clock.today() };
  }
}

const ANSWERS = {
  value: 'Write down what was measured: a number, like 6.5.',
  choice: 'Choose what you found.',
  weights: 'Write the weight of each unit, each on a line of its own.',
};

/** The form of a check has the field of its kind, which may be blank. */
function refuseBlank(sent: Sent): void {
  for (const [name, words] of Object.entries(ANSWERS))
    if (sent[name] !== undefined && written(sent, name) === undefined) throw invalid(`/${name}`, words);
}

const addressOf = (code: string): string => `/batches/${encodeURIComponent(code)}/checks`;
const samplesAddress = (code: string): string => `/batches/${encodeURIComponent(code)}/samples`;

function ChecksPageView({ checks, lot, samples, today, said, refused, sample, discard }: Seen): JSX.Element {
  const told = said !== undefined && said in SAID ? SAID[said as keyof typeof SAID] : undefined;
  return (
    <Page title={`Checks of ${checks.batch}`} at="/bench">
      <h1 safe>{`Checks of batch ${checks.batch}`}</h1>
      <p>
        <a href={`/batches/${encodeURIComponent(checks.batch)}`}>Back to the batch</a>.{' '}
        <a href="/bench/settings#checks">What is checked, and its limits</a>
      </p>
      {!!told && (
        <p class="note" role="status" safe>
          {told}
        </p>
      )}
      <CheckForm batch={checks.batch} lot={lot} checks={checks} said={told ? undefined : said} refused={refused} />
      <h2>Kept of it</h2>
      <FaultNote fault={discard} />
      {samples.length === 0 ? <p>No sample of it is kept yet.</p> : <Samples samples={samples} today={today} />}
      <Keep batch={checks.batch} sample={sample} />
    </Page>
  );
}

function Samples({ samples, today }: Pick<Seen, 'samples' | 'today'>): JSX.Element {
  return (
    <ul>
      {samples.map((sample) => (
        <li>
          <span safe>{sampleText(sample)}</span>
          {sample.discardedOn === null && sample.discardOn <= today && (
            <form method="post" action={`${samplesAddress(sample.batch)}/${sample.id}/discard`} class="row">
              <FormKey />
              <span class="mark care">its time is over</span>
              <button type="submit" aria-label={`Write down that the sample of lot ${sample.lot} is thrown away`}>
                It is thrown away
              </button>
            </form>
          )}
        </li>
      ))}
    </ul>
  );
}

function Keep({ batch, sample }: { batch: string; sample: Seen['sample'] }): JSX.Element {
  const field = (name: string) => ({ name, form: 'sample', value: sample?.sent[name], fault: sample?.fault });
  return (
    <details open={sample !== undefined}>
      <summary>Keep a sample</summary>
      <form method="post" action={samplesAddress(batch)} data-keeps={`${batch}/sample`}>
        <FormKey />
        <FaultNote fault={sample?.fault} />
        <TextField {...field('quantity')} label="How much" hint="Pieces, or with a unit: 30 g" required />
        <TextField {...field('place')} label="Where it stands" required maxlength={120} />
        <TextField {...field('discardOn')} type="date" label="May be thrown away on" required />
        <p>
          <button type="submit">Keep it</button>
        </p>
      </form>
    </details>
  );
}
