import type { JobsView } from '../../messages/jobs.schema.js';
import { type NoticeSettings, REMINDER_KINDS, type ReminderKind } from '../../messages/messages.schema.js';
import { dayOfMoment, longDay, momentText } from '../../ui/dates.js';
import { ChoiceField, type Fault, FaultNote, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { KIND_LONG, KIND_WORDS } from './reminder-words.js';
import { count } from '../../ui/words.js';

const SAID = { kept: 'That is kept.', again: 'It is tried again.', ended: 'The calendar is no longer answered.' };
const DIGEST = [
  ['yes', 'once a day, all together'],
  ['no', 'each when it comes'],
] as const;

export interface NoticesViewProps {
  settings: NoticeSettings;
  muted: readonly ReminderKind[];
  jobs: JobsView;
  said?: keyof typeof SAID;
  refused?: { sent: Sent; fault: Fault };
  /** A secret, shown this once. */
  told?: { what: 'secret' | 'calendar'; text: string };
}

/** How reminders are sent, which are not, and how sending goes. */
export function NoticesView(props: NoticesViewProps): JSX.Element {
  const { settings, muted, jobs, said, told } = props;
  return (
    <Page title="How reminders are sent" at="/reminders">
      <p>
        <a href="/reminders">All reminders</a>
      </p>
      <h1>How reminders are sent</h1>
      {!!said && (
        <p class="note good" role="status" safe>
          {SAID[said]}
        </p>
      )}
      {!!told && <Told told={told} />}
      <SettingsForm {...props} />
      <section>
        <h2>Signing and calendar</h2>
        <div class="row no-print">
          {settings.webhookUrl !== '' && (
            <form method="post" action="/reminders/settings/webhook-secret">
              <button type="submit">New secret for signing</button>
            </form>
          )}
          <form method="post" action="/reminders/settings/calendar">
            <button type="submit">
              {settings.calendarSince === null ? 'Make a calendar address' : 'New calendar address'}
            </button>
          </form>
          {settings.calendarSince !== null && (
            <form method="post" action="/reminders/settings/calendar/end">
              <button type="submit">End the calendar</button>
            </form>
          )}
        </div>
        <p class="hint" safe>
          {settings.calendarSince === null
            ? 'A calendar shows when to make, to release and to order. Whoever knows its address can read it.'
            : `There has been a calendar address since ${longDay(dayOfMoment(settings.calendarSince))}. A new one ends it.`}
        </p>
      </section>
      <Kinds muted={muted} />
      <Jobs jobs={jobs} />
    </Page>
  );
}

function Told({ told }: { told: NonNullable<NoticesViewProps['told']> }): JSX.Element {
  const isSecret = told.what === 'secret';
  return (
    <div class="note good" role="status">
      <p>
        {isSecret
          ? 'Posts are signed with this from now on. It is shown only now: '
          : 'Subscribe to this address of this server. It is shown only now: '}
        <code class="secret" safe>
          {told.text}
        </code>
      </p>
    </div>
  );
}

function SettingsForm({ settings, refused }: NoticesViewProps): JSX.Element {
  const values: Sent = refused?.sent ?? {
    emailTo: settings.emailTo.join(', '),
    emailDigest: settings.emailDigest ? 'yes' : 'no',
    webhookUrl: settings.webhookUrl,
    webhookDigest: settings.webhookDigest ? 'yes' : 'no',
    digestAt: settings.digestAt,
    quietFrom: settings.quietFrom ?? '',
    quietTo: settings.quietTo ?? '',
    countDays: String(settings.countDays),
    limitMonths: String(settings.limitMonths),
  };
  const field = (name: string) => ({ name, form: 'notices', value: values[name], fault: refused?.fault });
  const server =
    settings.emailServer === null
      ? 'No server for email is set (LOTWRIGHT_SMTP_URL), so none is sent.'
      : `Goes to ${settings.emailServer}. Several addresses with commas between.`;
  return (
    <form method="post" action="/reminders/settings">
      <FormKey />
      <FaultNote fault={refused?.fault} />
      <h2>Email and posts</h2>
      <div class="fields">
        <TextField {...field('emailTo')} label="Email goes to" hint={server} pointer={pointerOf(refused, 'emailTo')} />
        <ChoiceField {...field('emailDigest')} label="Email is sent" choices={DIGEST} />
        <TextField
          {...field('webhookUrl')}
          label="Posted to (https address)"
          hint="A program of yours that reads signed JSON; empty is nowhere"
        />
        <ChoiceField {...field('webhookDigest')} label="Posts are sent" choices={DIGEST} />
        <TextField {...field('digestAt')} label="The daily one goes at" hint="On the workshop's clock, such as 07:00" />
        <TextField {...field('quietFrom')} label="Nothing is sent from" hint="Such as 21:00; empty is never quiet" />
        <TextField {...field('quietTo')} label="until" hint="Such as 06:30" />
      </div>
      <h2>When something is due</h2>
      <div class="fields">
        <TextField
          {...field('countDays')}
          inputmode="numeric"
          label="Count a lot after so many days"
          hint="0 is never"
        />
        <TextField
          {...field('limitMonths')}
          inputmode="numeric"
          label="Look up use limits after so many months"
          hint="0 is never. Two years is common practice, no source"
        />
      </div>
      <p>
        <button type="submit" class="main">
          Keep this
        </button>
      </p>
    </form>
  );
}

/** A fault in one of several addresses is a fault of the field they all stand in. */
function pointerOf(refused: NoticesViewProps['refused'], name: string): string {
  return Object.keys(refused?.fault.fields ?? {}).find((key) => key.startsWith(`${name}/`)) ?? name;
}

function Kinds({ muted }: { muted: readonly ReminderKind[] }): JSX.Element {
  return (
    <section>
      <h2>Which are sent</h2>
      <ul class="lines">
        {REMINDER_KINDS.map((kind) => {
          const isMuted = muted.includes(kind);
          return (
            <li>
              <form method="post" action={`/reminders/muted/${kind}`} class="row">
                <FormKey />
                <input type="hidden" name="mute" value={isMuted ? 'no' : 'yes'} />
                <span class={`mark ${isMuted ? 'care' : 'good'}`}>{isMuted ? 'only shown' : 'sent'}</span>
                <span safe>{`${KIND_WORDS[kind]}: ${KIND_LONG[kind]}`}</span>
                <button
                  type="submit"
                  class="no-print"
                  aria-label={`${isMuted ? 'Send it' : 'Do not send it'}: ${KIND_WORDS[kind]}`}
                >
                  {isMuted ? 'Send it' : 'Do not send it'}
                </button>
              </form>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

function Jobs({ jobs }: { jobs: JobsView }): JSX.Element {
  const { queue, outbox, failing, lastSweep } = jobs;
  return (
    <section>
      <h2>How sending goes</h2>
      <p>
        <span class={`mark ${queue.reached && queue.workers > 0 ? 'good' : 'bad'}`} safe>
          {!queue.reached
            ? 'the jobs cannot be reached'
            : queue.workers === 0
              ? 'nobody works the jobs'
              : `${count(queue.workers, 'worker')} at work`}
        </span>{' '}
        <span safe>
          {`${outbox.sent} sent, ${outbox.waiting + outbox.handed} waiting, ${outbox.givenUp} given up. ${
            lastSweep === null
              ? 'It was not yet looked for what is due.'
              : `Last looked ${momentText(lastSweep.doneAt)}: ${lastSweep.found} due, in ${(lastSweep.tookMs / 1000).toFixed(1)} s.`
          }`}
        </span>
      </p>
      {failing.length !== 0 && (
        <>
          <h3>Not sent at the last try</h3>
          <ul class="lines">
            {failing.map((row) => (
              <li>
                <p safe>{`${row.about} (${row.channel}, tried ${count(row.tries, 'time')}): ${row.error}`}</p>
                <form method="post" action={`/reminders/messages/${row.message}/retry`} class="row no-print">
                  <FormKey />
                  <span class="hint" safe>
                    {row.nextTry === null ? 'not tried any more by itself' : `tried again ${momentText(row.nextTry)}`}
                  </span>
                  <button type="submit" aria-label={`Try again now: ${row.about}`}>
                    Try again now
                  </button>
                </form>
              </li>
            ))}
          </ul>
        </>
      )}
      <FailedJobs jobs={jobs} />
    </section>
  );
}

function FailedJobs({ jobs: { queue } }: { jobs: JobsView }): JSX.Element {
  if (queue.failedJobs.length === 0 && queue.errors.length === 0) return <p class="hint">No job has failed.</p>;
  return (
    <>
      <h3>Jobs that failed</h3>
      <ul class="lines">
        {queue.failedJobs.map((job) => (
          <li>
            <p
              safe
            >{`${job.name === 'sweep' ? 'Looking for what is due' : 'Sending'}, ${momentText(job.failedAt)}: ${job.error}`}</p>
            <form method="post" action="/reminders/jobs/retry" class="no-print">
              <input type="hidden" name="id" value={job.id} />
              <button type="submit" aria-label={`Do it again: the job of ${momentText(job.failedAt)}`}>
                Do it again
              </button>
            </form>
          </li>
        ))}
        {queue.errors.map(({ at, error }) => (
          <li safe>{`The jobs could not be reached, ${momentText(at)}: ${error}`}</li>
        ))}
      </ul>
    </>
  );
}
