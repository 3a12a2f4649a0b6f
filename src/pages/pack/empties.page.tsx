import { Get, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { lineOfText } from '../../platform/schema.js';
import { ReturnsService } from '../../shipping/returns.service.js';
import { emptiesCreate } from '../../shipping/shipping.schema.js';
import { bodyOf, type Fault, faultOf, FaultNote, goTo, type Sent, TextField, written } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const saidQuery = z.strictObject({ lot: lineOfText(80).optional() });

/** Jars and bottles that customers bring back. */
@PageController('empties')
export class EmptiesPage {
  constructor(private readonly returns: ReturnsService) {}

  @Get()
  show(@Query({ schema: saidQuery }) { lot }: z.infer<typeof saidQuery>) {
    return <EmptiesView lot={lot} />;
  }

  @Post()
  async take(@Filled() { who, sent, reply }: Filled) {
    try {
      const body = bodyOf(emptiesCreate, {
        item: written(sent, 'item')?.toUpperCase(),
        quantity: written(sent, 'quantity') ?? '',
        from: written(sent, 'from'),
        place: written(sent, 'place'),
      });
      const { code } = await this.returns.takeEmpties(who, body);
      return goTo(reply, '/empties', { lot: code });
    } catch (error) {
      return <EmptiesView refused={{ sent, fault: faultOf(error, reply) }} />;
    }
  }
}

function EmptiesView({ lot, refused }: { lot?: string; refused?: { sent: Sent; fault: Fault } }): JSX.Element {
  const field = (name: string) => ({ name, form: 'empties', value: refused?.sent[name], fault: refused?.fault });
  return (
    <Page title="Empties" at="/pick">
      <h1>Empties that came back</h1>
      {lot !== undefined && (
        <p class="note" role="status">
          They are{' '}
          <a href={`/shelf/lots/${encodeURIComponent(lot)}`} safe>
            {`lot ${lot}`}
          </a>
          , on hold. Release it once they are washed and dry.
        </p>
      )}
      <form method="post" action="/empties">
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <TextField
          {...field('item')}
          label="Which container"
          hint="Its code, such as JAR-220"
          required
          maxlength={40}
        />
        <TextField {...field('quantity')} label="How many" inputmode="numeric" required />
        <TextField
          {...field('from')}
          label="From whom"
          hint="A customer's name: their number is kept, and of anybody else nothing"
          maxlength={200}
        />
        <TextField {...field('place')} label="Where they stand" maxlength={120} />
        <p>
          <button type="submit" class="main">
            Take them in
          </button>
        </p>
      </form>
    </Page>
  );
}
