import type { PropsWithChildren } from '@kitajs/html';
import { longDay, shortDay } from '../../ui/dates.js';
import type { FairList as Fairs, FairView as Fair } from '../../shipping/fairs.schema.js';
import { type Fault, FaultNote, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';

export const FAIR_SAID = ['along', 'sold', 'back'] as const;
export type FairForm = (typeof FAIR_SAID)[number];
/** Lots in one form; who takes more along sends it again. */
export const FAIR_ROWS = 200;
const BLANK_ROWS = 5;

const SAID: Record<FairForm, string> = {
  along: 'It is taken along: lots of their own, set aside for the fair until they are back.',
  sold: 'The sale is written down.',
  back: 'What was not sold is home again, and free.',
};

export function FairList({ fairs, refused }: Fairs & { refused?: { sent: Sent; fault: Fault } }): JSX.Element {
  return (
    <Page title="Fairs" at="/pick">
      <h1>Fairs</h1>
      {fairs.length === 0 && <p>Nothing was taken to a fair yet.</p>}
      <ul class="places">
        {fairs.map(({ name, until, isOver }) => (
          <li>
            <a class="button" href={`/fairs/${encodeURIComponent(name)}`} safe>
              {`${name}, ${isOver ? 'over' : `until ${shortDay(until)}`}`}
            </a>
          </li>
        ))}
      </ul>
      <h2>Take stock to one</h2>
      <form method="post" action="/fairs">
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <TextField
          name="name"
          form="fair"
          label="Name of the fair"
          value={refused?.sent['name']}
          fault={refused?.fault}
          required
          maxlength={80}
        />
        <AlongFields refused={refused} form="fair" />
        <p>
          <button type="submit" class="main">
            Take it along
          </button>
        </p>
      </form>
    </Page>
  );
}

function AlongFields({
  refused,
  form,
  place,
}: {
  refused?: { sent: Sent; fault: Fault };
  form: string;
  place?: string;
}) {
  const field = (name: string, value?: string) => ({
    name,
    form,
    value: refused?.sent[name] ?? value,
    fault: refused?.fault,
  });
  return (
    <>
      <div class="fields">
        <TextField {...field('place', place)} label="Where it stands meanwhile" required maxlength={120} />
        <TextField {...field('until')} type="date" label="Last day" required />
      </div>
      {Array.from({ length: BLANK_ROWS }, (_, n) => (
        <div class="fields">
          <TextField {...field(`lots/${n}/lot`)} label={`Lot ${n + 1}`} maxlength={80} />
          <TextField {...field(`lots/${n}/quantity`)} label={`Pieces of lot ${n + 1}`} inputmode="numeric" />
        </div>
      ))}
    </>
  );
}

interface FairProps {
  fair: Fair;
  said?: FairForm;
  refused?: { form: FairForm; sent: Sent; fault: Fault };
}

export function FairView(props: FairProps): JSX.Element {
  const { fair, said, refused } = props;
  const left = fair.lots.filter((lot) => lot.left > 0);
  const along = refused?.form === 'along' ? refused : undefined;
  return (
    <Page title={fair.name} at="/pick">
      <h1 safe>{fair.name}</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {SAID[said]}
        </p>
      )}
      <p safe>{fair.isOver ? 'Everything is sold or home again.' : `Until ${longDay(fair.until)}.`}</p>
      {left.some(({ isFlammable }) => isFlammable) && (
        <p class="note care">
          Some of it burns: ask the fair and the local fire code what may be kept on the stand, and how.
        </p>
      )}
      <Lots fair={fair} refused={refused} />
      {left.length > 0 && (
        <Fold {...props} form="back" title="Bring the rest home" button="It is home">
          <TextField
            name="place"
            form="back"
            label="Where it stands now"
            hint="Empty: where it came from"
            value={refused?.form === 'back' ? refused.sent['place'] : ''}
            fault={refused?.form === 'back' ? refused.fault : undefined}
            maxlength={120}
          />
        </Fold>
      )}
      <Fold {...props} form="along" title="Take more along" button="Take it along">
        <AlongFields refused={along} form="along" place={fair.lots[0]?.place} />
      </Fold>
      <p>
        <a href="/fairs">All fairs</a>
      </p>
    </Page>
  );
}

function Fold(props: PropsWithChildren<FairProps & { form: FairForm; title: string; button: string }>): JSX.Element {
  const { fair, form, title, button, refused, children } = props;
  const mine = refused?.form === form ? refused : undefined;
  return (
    <details open={mine !== undefined}>
      <summary safe>{title}</summary>
      <form method="post" action={`/fairs/${encodeURIComponent(fair.name)}/${form}`}>
        <FormKey />
        <FaultNote fault={mine?.fault} />
        {children}
        <p>
          <button type="submit" safe>
            {button}
          </button>
        </p>
      </form>
    </details>
  );
}

/** What is there, and beside each lot room for what was sold of it just now. */
function Lots({ fair, refused }: FairProps): JSX.Element {
  const mine = refused?.form === 'sold' ? refused : undefined;
  return (
    <form method="post" action={`/fairs/${encodeURIComponent(fair.name)}/sold`} data-keeps={`fair/${fair.name}`}>
      <FormKey />
      <FaultNote fault={mine?.fault} />
      <table class="stack entry">
        <thead>
          <tr>
            <th>What</th>
            <th>Lot</th>
            <th class="num">Taken</th>
            <th class="num">Sold</th>
            <th class="num">Left</th>
            <th>Sold now</th>
          </tr>
        </thead>
        <tbody>
          {fair.lots.map(({ lot, name, taken, sold, left }, n) => (
            <tr>
              <th scope="row" safe>
                {name}
              </th>
              <td data-label="Lot">
                <a href={`/shelf/lots/${encodeURIComponent(lot)}`} safe>
                  {lot}
                </a>
              </td>
              <td class="num" data-label="Taken">
                {taken}
              </td>
              <td class="num" data-label="Sold">
                {sold}
              </td>
              <td class="num" data-label="Left">
                {left}
              </td>
              <td data-label="Sold now">
                {left > 0 && (
                  <>
                    <input type="hidden" name={`lots/${n}/lot`} value={lot} />
                    <input
                      class="few"
                      name={`lots/${n}/quantity`}
                      inputmode="numeric"
                      autocomplete="off"
                      aria-label={`Sold now of lot ${lot}`}
                      value={mine?.sent[`lots/${n}/quantity`] ?? ''}
                    />
                  </>
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {fair.lots.some(({ left }) => left > 0) && (
        <button type="submit" class="main">
          Write the sale down
        </button>
      )}
    </form>
  );
}
