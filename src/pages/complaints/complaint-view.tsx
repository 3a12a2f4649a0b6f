import { dayOfMoment, longDay, shortDay } from '../../ui/dates.js';
import type { ComplaintView as Complaint, Harm, Harmed } from '../../trace/complaint.schema.js';
import { ChoiceField, type Fault, FaultNote, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { LongField } from '../../ui/long-field.js';

export const HARM_WORDS: Record<Harm, string> = {
  none: 'no harm',
  skin: 'skin reaction',
  fire: 'fire or flare-up',
  glass: 'broken glass',
  other: 'other harm',
};

const HARMED_WORDS: Record<Harmed, string> = {
  nobody: '',
  person: 'to a person',
  property: 'to things',
  both: 'to a person and to things',
};

const KIND_WORDS: Record<string, string> = {
  note: 'Note',
  answer: 'Answered',
  advice: 'Advice sought',
  due: 'Put off',
  lot: 'Turned out to be lot',
  order: 'Turned out to be of order',
  closed: 'Closed',
  reopened: 'Taken up again',
};

/** More lots than these an order seldom has; all of them stand further down. */
const LOTS_LED_TO = 3;

export interface Refused {
  form: string;
  sent: Sent;
  fault: Fault;
}

export function ComplaintPaper({ complaint, refused }: { complaint: Complaint; refused?: Refused }): JSX.Element {
  const { code, status } = complaint;
  return (
    <Page title={`Complaint ${code}`} at="/complaints">
      <h1 safe>{`Complaint ${code}`}</h1>
      {complaint.urges.length > 0 && status === 'open' && (
        <div class="note bad" role="note">
          <p>
            <strong>First</strong>
          </p>
          <ul>
            {complaint.urges.map((urge) => (
              <li safe>{urge}</li>
            ))}
          </ul>
          <div class="row no-print">
            {complaint.lots.slice(0, LOTS_LED_TO).map((lot) => (
              <>
                <a class="button" href={`/shelf/lots/${encodeURIComponent(lot)}#decide-to`} safe>{`Hold lot ${lot}`}</a>
                <a
                  class="button"
                  href={`/trace/${encodeURIComponent(lot)}?complaints=${code}`}
                  safe
                >{`What lot ${lot} shares`}</a>
              </>
            ))}
          </div>
        </div>
      )}
      <p safe>{complaint.description}</p>
      <Facts complaint={complaint} />
      <Photos complaint={complaint} refused={refused} />
      <h2>What was done about it</h2>
      {complaint.entries.length === 0 && <p>Nothing yet.</p>}
      <ol>
        {complaint.entries.map((entry) => (
          <li safe>
            {[
              `${longDay(dayOfMoment(entry.at))}, ${entry.by}: ${KIND_WORDS[entry.kind] ?? entry.kind}`,
              entry.lot,
              entry.order,
              entry.dueOn === null ? null : `until ${shortDay(entry.dueOn)}`,
              entry.text === '' ? null : entry.text,
            ]
              .filter(Boolean)
              .join(' · ')}
          </li>
        ))}
      </ol>
      <Acts complaint={complaint} refused={refused} />
    </Page>
  );
}

function Facts({ complaint }: { complaint: Complaint }): JSX.Element {
  const { status, harm, harmed, lots, isLotKnown, orders, recalls } = complaint;
  return (
    <dl class="facts">
      <dt>State</dt>
      <dd safe>{`${status}, answer by ${longDay(complaint.dueOn)}${complaint.isOverdue ? ', overdue' : ''}`}</dd>
      <dt>Reported</dt>
      <dd safe>
        {`${longDay(complaint.reportedOn)}${complaint.happenedOn === null ? '' : `, happened ${longDay(complaint.happenedOn)}`}`}
      </dd>
      <dt>Harm</dt>
      <dd safe>{`${HARM_WORDS[harm]} ${HARMED_WORDS[harmed]}`}</dd>
      <dt>Lots</dt>
      <dd>
        {lots.length === 0 ? 'not known yet' : isLotKnown ? '' : 'one of '}
        {lots.map((lot) => (
          <>
            <a href={`/trace/${encodeURIComponent(lot)}`} safe>
              {lot}
            </a>{' '}
          </>
        ))}
      </dd>
      <dt>Orders</dt>
      <dd safe>{orders.length === 0 ? 'not known' : orders.join(', ')}</dd>
      <dt>Reported by</dt>
      <dd safe>
        {[complaint.reporter, complaint.contact].filter((text) => text !== '').join(', ') || 'not written down'}
      </dd>
      {recalls.length > 0 && (
        <>
          <dt>Recalls</dt>
          <dd>
            {recalls.map((recall) => (
              <>
                <a href={`/recalls/${recall}`} safe>
                  {recall}
                </a>{' '}
              </>
            ))}
          </dd>
        </>
      )}
    </dl>
  );
}

function Photos({ complaint, refused }: { complaint: Complaint; refused?: Refused }): JSX.Element {
  return (
    <section>
      {complaint.photos.map(({ id }, at) => (
        <a href={`/api/complaint-photos/${id}`}>
          <img class="photo" src={`/api/complaint-photos/${id}`} alt={`Photo ${at + 1}`} loading="lazy" />
        </a>
      ))}
      <form method="post" action={`/complaints/${complaint.code}/photo`} enctype="multipart/form-data" class="no-print">
        {refused?.form === 'photo' && <FaultNote fault={refused.fault} />}
        <label for="photo">Photo</label>
        <div class="row">
          <input id="photo" type="file" name="photo" accept="image/jpeg,image/png,image/webp" required />
          <button type="submit">Add it</button>
        </div>
      </form>
    </section>
  );
}

function Acts({ complaint, refused }: { complaint: Complaint; refused?: Refused }): JSX.Element {
  const isOpen = complaint.status === 'open';
  const kinds: [string, string][] = [
    ['note', 'Note'],
    ['answer', 'What was answered'],
    ['advice', 'Advice that was sought'],
    ...(isOpen
      ? [['closed', 'Outcome: close it'] as [string, string]]
      : [['reopened', 'Take it up again'] as [string, string]]),
  ];
  const of = (form: string) => (refused?.form === form ? refused : undefined);
  return (
    <section class="no-print">
      <h2>Add to it</h2>
      <form method="post" action={`/complaints/${complaint.code}/entry`}>
        <FormKey />
        <FaultNote fault={of('entry')?.fault} />
        <ChoiceField name="kind" form="entry" label="What" value={of('entry')?.sent['kind']} choices={kinds} />
        <LongField
          name="text"
          form="entry"
          label="In words"
          value={of('entry')?.sent['text']}
          fault={of('entry')?.fault}
          required
        />
        <p>
          <button type="submit" class="main">
            Add it
          </button>
        </p>
      </form>
      <details open={of('lot') !== undefined || !complaint.isLotKnown}>
        <summary>It turned out to be this lot</summary>
        <form method="post" action={`/complaints/${complaint.code}/lot`}>
          <FormKey />
          <FaultNote fault={of('lot')?.fault} />
          <TextField
            name="lot"
            form="lot"
            label="Lot"
            value={of('lot')?.sent['lot']}
            fault={of('lot')?.fault}
            required
          />
          <button type="submit">That is it</button>
        </form>
      </details>
      <details open={of('due') !== undefined}>
        <summary>Answer it by another day</summary>
        <form method="post" action={`/complaints/${complaint.code}/due`}>
          <FormKey />
          <FaultNote fault={of('due')?.fault} />
          <TextField
            name="dueOn"
            form="due"
            type="date"
            label="Day"
            value={of('due')?.sent['dueOn']}
            fault={of('due')?.fault}
            required
          />
          <button type="submit">Put it off</button>
        </form>
      </details>
    </section>
  );
}
