import { shortDay } from '../../ui/dates.js';
import type { ComplaintSummary, Harm, SuspicionView } from '../../trace/complaint.schema.js';
import { HARM_WORDS, type Refused } from './complaint-view.js';
import { ChoiceField, FaultNote, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { LongField } from '../../ui/long-field.js';
import { count } from '../../ui/words.js';

export function ComplaintList(props: {
  /** The newest first. */
  open: readonly ComplaintSummary[];
  closed: readonly ComplaintSummary[];
  suspicion: SuspicionView;
  channels: readonly (readonly [code: string, name: string])[];
  refused?: Refused;
  /** Fields of the form that are known already. */
  given?: Sent;
}): JSX.Element {
  const { open, closed, suspicion } = props;
  return (
    <Page title="Complaints" at="/complaints">
      <h1>Complaints</h1>
      <nav class="row no-print" aria-label="More">
        <a class="button" href="/recalls">
          Recalls and drills
        </a>
        <a class="button" href="/customers">
          Customers
        </a>
      </nav>
      <form method="get" action="/trace" class="filters no-print">
        <div class="field">
          <label for="trace-lot">Trace a lot: its code, or what a scanner reads of its label</label>
          <input id="trace-lot" name="lot" required maxlength="500" autocomplete="off" />
        </div>
        <button type="submit">Trace it</button>
      </form>
      {open.length === 0 ? (
        <p>No complaint is open. What a customer reports is written down below, with whatever is known of it.</p>
      ) : (
        <Table complaints={open} caption="Open" />
      )}
      <Suspicion suspicion={suspicion} />
      <NewComplaint channels={props.channels} refused={props.refused} given={props.given} />
      {closed.length > 0 && <Table complaints={closed} caption="Closed" />}
    </Page>
  );
}

function Table({ complaints, caption }: { complaints: readonly ComplaintSummary[]; caption: string }): JSX.Element {
  return (
    <table class="stack">
      <caption safe>{caption}</caption>
      <thead>
        <tr>
          <th>Complaint</th>
          <th>Reported</th>
          <th>What</th>
          <th>Lots it may be</th>
          <th>Harm</th>
          <th>Answer by</th>
        </tr>
      </thead>
      <tbody>
        {complaints.map((one) => (
          <tr>
            <th scope="row">
              <a href={`/complaints/${one.code}`} safe>
                {one.code}
              </a>
            </th>
            <td data-label="Reported" safe>
              {shortDay(one.reportedOn)}
            </td>
            <td data-label="What" safe>
              {one.description.length > 90 ? `${one.description.slice(0, 89)}…` : one.description}
            </td>
            <td data-label="Lots it may be">{one.lots.length > 0 ? one.lots.join(', ') : 'not known yet'}</td>
            <td data-label="Harm">
              <HarmMark harm={one.harm} />
            </td>
            <td data-label="Answer by" safe>
              {`${shortDay(one.dueOn)}${one.isOverdue ? ', overdue' : ''}`}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

const HarmMark = ({ harm }: { harm: Harm }): JSX.Element => (
  <span class={harm === 'none' ? 'mark' : 'mark bad'} safe>
    {HARM_WORDS[harm]}
  </span>
);

/** What several complaints have in common, the least likely by chance first. */
function Suspicion({ suspicion }: { suspicion: SuspicionView }): JSX.Element {
  const suspects = suspicion.suspects.filter(({ complaints }) => complaints.length > 1).slice(0, 12);
  if (suspicion.lotsComplained === 0 || suspicion.complaints.length < 2) return <></>;
  return (
    <>
      <h2>What they may have in common</h2>
      {suspects.length === 0 ? (
        <p>No single lot, delivery, vessel or day explains more than one of them.</p>
      ) : (
        <table class="stack">
          <caption safe>
            {`Sources that would explain several of ${count(suspicion.complaints.length, 'open complaint')}, among ${count(suspicion.lotsSold, 'lot')} sold. By chance: how probable it is that so many of the ${suspicion.lotsComplained} complained lots hold it for no reason (Fisher's exact test, one-sided). Few complaints prove nothing; it says where to look first.`}
          </caption>
          <thead>
            <tr>
              <th>Source</th>
              <th>Would explain</th>
              <th class="num">Complained lots with it</th>
              <th class="num">Sold lots with it</th>
              <th class="num">By chance</th>
            </tr>
          </thead>
          <tbody>
            {suspects.map((one) => (
              <tr>
                <th scope="row">
                  {one.kind === 'lot' ? (
                    <a
                      href={`/trace/${encodeURIComponent(one.code)}?complaints=${one.complaints.join(',')}`}
                      safe
                    >{`lot ${one.code}`}</a>
                  ) : (
                    <span safe>{`${one.kind} ${one.code}`}</span>
                  )}{' '}
                  <span class="hint" safe>
                    {one.name}
                  </span>
                </th>
                <td data-label="Would explain" safe>
                  {one.complaints.join(', ')}
                </td>
                <td class="num" data-label="Complained lots with it" safe>
                  {`${one.lotsHit} of ${suspicion.lotsComplained}`}
                </td>
                <td class="num" data-label="Sold lots with it" safe>
                  {`${one.lotsIn} of ${suspicion.lotsSold}`}
                </td>
                <td class="num" data-label="By chance" safe>
                  {chanceText(one.chance)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}

export const chanceText = (chance: number): string =>
  chance >= 0.9995 ? 'certain' : chance < 0.0001 ? 'below 1 in 10 000' : `1 in ${Math.round(1 / chance)}`;

function NewComplaint({
  channels,
  refused,
  given,
}: {
  channels: readonly (readonly [code: string, name: string])[];
  refused?: Refused;
  given?: Sent;
}): JSX.Element {
  const field = (name: string, pointer?: string) => ({
    name,
    form: 'new',
    value: (refused?.sent ?? given)?.[name],
    fault: refused?.fault,
    pointer,
  });
  return (
    <section class="no-print" id="new">
      <h2>Write down a complaint</h2>
      <form method="post" action="/complaints">
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <LongField {...field('description')} label="What was reported" required />
        <div class="fields">
          <ChoiceField
            {...field('harm')}
            label="Harm"
            choices={[
              ['', 'choose'],
              ...(['none', 'skin', 'fire', 'glass', 'other'] as const).map((one) => [one, HARM_WORDS[one]] as const),
            ]}
          />
          <ChoiceField
            {...field('harmed')}
            label="To whom or what"
            choices={[
              ['', 'as usual for such harm'],
              ['person', 'a person'],
              ['property', 'things'],
              ['both', 'both'],
            ]}
          />
          <TextField {...field('reportedOn')} type="date" label="The day it was reported, if not today" />
          <TextField {...field('happenedOn')} type="date" label="The day it happened, if known" />
        </div>
        <div class="fields">
          <TextField {...field('lot')} label="Lot on the label" hint="Type it, or scan it into the field" />
          <ChoiceField
            {...field('channel', 'order/channel')}
            label="Or the order: channel"
            choices={[['', 'not known'], ...channels]}
          />
          <TextField {...field('number', 'order/number')} label="Number of the order" maxlength={80} />
        </div>
        <div class="fields">
          <TextField {...field('reporter')} label="Who reported it" maxlength={200} />
          <TextField {...field('contact')} label="How to reach them" maxlength={500} />
        </div>
        <p>
          <button type="submit" class="main">
            Write it down
          </button>
        </p>
      </form>
    </section>
  );
}
