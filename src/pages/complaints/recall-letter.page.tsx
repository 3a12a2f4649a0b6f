import { Get, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import type { TraceSettings } from '../../trace/settings.schema.js';
import { traceSettings } from '../../trace/settings.schema.js';
import { TraceSettingsService } from '../../trace/settings.service.js';
import { bodyOf, type Fault, FaultNote, faultOf, goTo, type Sent, TextField, written } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { LongField } from '../../ui/long-field.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const saidQuery = z.strictObject({ said: z.enum(['kept']).optional() });

/** The words of the letter of a recall, and how the workshop and its customers are named and kept. */
@PageController('recalls/letter')
export class RecallLetterPage {
  constructor(private readonly settings: TraceSettingsService) {}

  @Get()
  async show(@Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>) {
    return <LetterForm settings={await this.settings.get()} isKept={said === 'kept'} />;
  }

  @Post()
  async keep(@Filled() { who, sent, reply }: Filled) {
    try {
      const days = written(sent, 'contactDays') ?? '';
      await this.settings.put(
        who,
        bodyOf(traceSettings, {
          letter: (sent['letter'] ?? '').replaceAll('\r\n', '\n'),
          contactDays: /^\d{1,6}$/.test(days) ? Number(days) : days,
          companyPrefix: written(sent, 'companyPrefix') ?? null,
        }),
      );
      return goTo(reply, '/recalls/letter', { said: 'kept' });
    } catch (error) {
      return <LetterForm settings={await this.settings.get()} refused={{ sent, fault: faultOf(error, reply) }} />;
    }
  }
}

function LetterForm(props: {
  settings: TraceSettings;
  isKept?: boolean;
  refused?: { sent: Sent; fault: Fault };
}): JSX.Element {
  const { settings, isKept, refused } = props;
  const field = (name: string, value: string) => ({
    name,
    form: 'letter',
    value: refused?.sent[name] ?? value,
    fault: refused?.fault,
  });
  return (
    <Page title="Letter of a recall" at="/complaints">
      <h1>Letter of a recall</h1>
      {isKept && (
        <p class="note" role="status">
          It is kept, for this recall and those to come.
        </p>
      )}
      <form method="post" action="/recalls/letter">
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <LongField
          {...field('letter', settings.letter)}
          label="Words of the letter"
          hint="Filled in for each: {customer}, {products}, {why}, {workshop}, {date}, {recall}, {order}"
          rows={18}
          required
          maxlength={10_000}
        />
        <p class="hint">
          What a recall has to tell, and to whom, the law of where the goods were sold may say. Ask the local authority.
        </p>
        <div class="fields">
          <TextField
            {...field('contactDays', String(settings.contactDays))}
            label="Days a customer's name is kept after the last parcel"
            inputmode="numeric"
            required
          />
          <TextField
            {...field('companyPrefix', settings.companyPrefix ?? '')}
            label="Company prefix of GS1, if there is one"
            inputmode="numeric"
          />
        </div>
        <p>
          <button type="submit" class="main">
            Keep it
          </button>
        </p>
      </form>
    </Page>
  );
}
