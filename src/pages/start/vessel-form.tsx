import type { VesselView } from '../../catalog/workshop.schema.js';
import { amountText } from '../../ui/amounts.js';
import { FaultNote, fieldsOf, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import type { FormState } from './tried.js';

/** Kettles, jugs, melters and moulds. */
export function VesselForm({
  vessels,
  lookedFor,
  state,
}: {
  vessels: readonly VesselView[];
  lookedFor?: string;
  state: FormState;
}): JSX.Element {
  const { fault } = state;
  const field = fieldsOf('vessel', state);
  return (
    <form method="post" action="/start/vessel">
      <FormKey />
      <p>
        A kettle, a jug, a melter, a mould: a batch is no larger than what it is poured in, and a vessel in use is not
        free.
      </p>
      {vessels.length > 0 && (
        <ul class="hint">
          {vessels.map(({ code, kind, capacity }) => (
            <li aria-current={code === lookedFor ? 'true' : undefined}>
              {code === lookedFor ? <strong safe>{code}</strong> : <span safe>{code}</span>}{' '}
              <span safe>{`(${kind}, ${amountText(capacity, 'weighed')})`}</span>
            </li>
          ))}
        </ul>
      )}
      <FaultNote fault={fault} />
      <div class="fields">
        <TextField {...field('code')} label="Short name" hint="Such as JUG-1" maxlength={40} />
        <TextField
          {...field('kind')}
          label="Kind"
          hint="What a formula asks for: jug, kettle, melter, mould"
          maxlength={40}
        />
        <TextField {...field('capacity')} label="Holds by weight" hint="Such as 5 kg, or 12 lb" maxlength={40} />
      </div>
      <p>
        <button type="submit" class="main">
          Add this vessel
        </button>
      </p>
      <p>
        <a href="/start/washing">What is washed between two pours</a>
      </p>
    </form>
  );
}
