import { addDays } from '../../kernel/measure/day.js';
import type { ReminderCounts, ReminderPage, ReminderView } from '../../messages/messages.schema.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { type Fault, FaultNote } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { KIND_WORDS } from './reminder-words.js';

type Status = ReminderView['status'];
const TABS: readonly (readonly [Status, string])[] = [
  ['open', 'To see to'],
  ['snoozed', 'Put off'],
  ['acknowledged', 'Dealt with'],
  ['over', 'Over'],
];
const NOTHING: Record<Status, string> = {
  open: 'Nothing has to be seen to now.',
  snoozed: 'Nothing is put off.',
  acknowledged: 'Nothing that still lasts was dealt with.',
  over: 'Nothing is over yet.',
};
const SNOOZE_DAYS = 7;
const MARKS: Record<'bad' | 'care', ReadonlySet<ReminderView['kind']>> = {
  bad: new Set(['shortfall']),
  care: new Set(['reorder', 'late-delivery', 'expiring']),
};

export interface RemindersViewProps {
  page: ReminderPage;
  status: Status;
  counts: ReminderCounts;
  looked?: boolean;
  refused?: { id: number; until: string; fault: Fault };
}

/** What there is to be told, by its day, with what can be done about each. */
export function RemindersView({ page, status, counts, looked, refused }: RemindersViewProps): JSX.Element {
  const { reminders, today, next } = page;
  return (
    <Page title="Reminders" at="/reminders">
      <h1>Reminders</h1>
      <nav class="row no-print" aria-label="Which reminders">
        {TABS.map(([tab, words]) => (
          <a class="button" href={`/reminders?status=${tab}`} aria-current={tab === status ? 'page' : undefined} safe>
            {tab === 'over' ? words : `${words} (${counts[tab]})`}
          </a>
        ))}
        <a class="button" href="/reminders/settings">
          How they are sent
        </a>
      </nav>
      {looked && (
        <p class="note good" role="status">
          It is being looked for what is due. Open this page again in a moment.
        </p>
      )}
      <FaultNote fault={refused?.fault} />
      {reminders.length === 0 ? (
        <p class="note none" safe>
          {NOTHING[status]}
        </p>
      ) : (
        <ul class="cards" aria-label="Reminders">
          {reminders.map((reminder) => (
            <Reminder reminder={reminder} today={today} refused={refused} />
          ))}
        </ul>
      )}
      {next !== null && (
        <p class="no-print">
          <a class="button" href={`/reminders?status=${status}&after=${next}`}>
            Further ones
          </a>
        </p>
      )}
      {status === 'open' && (
        <form method="post" action="/reminders/look" class="no-print">
          <button type="submit">Look now for what is due</button>
        </form>
      )}
    </Page>
  );
}

interface ReminderProps {
  reminder: ReminderView;
  today: string;
  refused: RemindersViewProps['refused'];
}

function Reminder({ reminder, today, refused }: ReminderProps): JSX.Element {
  const { id, kind, title, detail, link, dueOn } = reminder;
  const mark = MARKS.bad.has(kind) ? 'bad' : MARKS.care.has(kind) ? 'care' : 'good';
  return (
    <li class="card">
      <h2>
        <a href={link === '' ? `/reminders#r${id}` : link} id={`r${id}`} safe>
          {title}
        </a>
      </h2>
      <p>
        <span class={`mark ${mark}`} safe>
          {KIND_WORDS[kind]}
        </span>{' '}
        <span safe>{dueOn < today ? `since ${longDay(dueOn)}` : dueOn === today ? 'today' : longDay(dueOn)}</span>
      </p>
      {detail !== '' && <p safe>{detail}</p>}
      <p class="hint" safe>
        {toldText(reminder)}
      </p>
      <Acts reminder={reminder} today={today} refused={refused} />
    </li>
  );
}

/** What came of it: who was told, what was done. */
function toldText({ status, snoozedUntil, overOn, muted, sent, changedBy }: ReminderView): string {
  const gone = sent.filter((message) => message.status === 'sent');
  const told = gone.length > 0 ? `sent by ${[...new Set(gone.map(({ channel }) => channel))].join(' and ')}` : '';
  const parts = [
    status === 'snoozed' ? `put off until ${shortDay(snoozedUntil!)} by ${changedBy}` : '',
    status === 'acknowledged' ? `dealt with by ${changedBy}` : '',
    status === 'over' ? `over since ${shortDay(overOn!)}` : '',
    told,
    told === '' && sent.some((message) => message.status === 'waiting') ? 'waits to be sent' : '',
    muted ? 'its kind is not sent' : '',
  ];
  return parts.filter((part) => part !== '').join('; ') || 'only shown here';
}

function Acts({ reminder, today, refused }: ReminderProps): JSX.Element {
  const { id, status, title } = reminder;
  if (status === 'over') return <></>;
  if (status !== 'open')
    return (
      <form method="post" action={`/reminders/${id}/reopen`} class="no-print">
        <FormKey />
        <button type="submit" aria-label={`Take that back: ${title}`}>
          Take that back
        </button>
      </form>
    );
  const isRefused = refused?.id === id;
  return (
    <div class="row no-print">
      <form method="post" action={`/reminders/${id}/acknowledge`}>
        <FormKey />
        <button type="submit" class="main" aria-label={`Dealt with: ${title}`}>
          Dealt with
        </button>
      </form>
      <form method="post" action={`/reminders/${id}/snooze`} class="row">
        <FormKey />
        <button type="submit" aria-label={`Put off until: ${title}`}>
          Put off until
        </button>
        <input
          type="date"
          name="until"
          value={isRefused ? refused.until : addDays(today, SNOOZE_DAYS)}
          aria-label={`Day it comes back: ${title}`}
          aria-invalid={isRefused ? 'true' : undefined}
          aria-describedby={isRefused ? `until-${id}-fault` : undefined}
        />
        {isRefused && (
          <div class="fault" id={`until-${id}-fault`} safe>
            {refused.fault.fields['until'] ?? refused.fault.detail}
          </div>
        )}
      </form>
    </div>
  );
}
