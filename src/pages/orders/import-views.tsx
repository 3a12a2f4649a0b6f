import type { Role } from '../../orders/columns.js';
import { ROLES } from '../../orders/columns.js';
import type { ImportReport } from '../../orders/import.schema.js';
import type { OrderFile, Reading } from '../../orders/order-files.service.js';
import type { ChannelView } from '../../orders/orders.schema.js';
import { WEIGHT_MAX } from '../../orders/precedence.js';
import type { Problem } from '../../platform/problem.js';
import { ChoiceField, type Fault, FaultNote, type Sent, sayOf } from '../../ui/form.js';
import { UnknownCodes } from './import-codes.js';
import { BadRows, Changes, Counts, GoodRows } from './import-rows.js';
import { Page } from '../../ui/layout.js';
import { count } from '../../ui/words.js';

/** What a column of a shop's file may be. */
export const ROLE_WORDS: Record<Role, string> = {
  number: 'Order number',
  code: 'Code of the item',
  quantity: 'How many',
  customer: 'Customer',
  placedOn: 'Placed on',
  shipBy: 'Ship by',
  notBefore: 'Not before',
  channel: 'Channel',
  status: 'State of the order',
  paid: 'Paid',
  fulfilled: 'How many are sent',
  fulfilment: 'Sent or not',
  cancelledOn: 'Cancelled',
  urgent: 'Urgent',
  weight: 'Counts as',
};

const DATE_CHOICES = [
  ['', 'year first: 2026-11-30'],
  ['dmy', 'day first: 30/11/2026'],
  ['mdy', 'month first: 11/30/2026'],
] as const;

type Channels = readonly ChannelView[];

/** Choosing a file, or pasting its rows. */
export function ChooseFile(props: { sent: Sent; fault: Fault | undefined; channels: Channels }): JSX.Element {
  const { sent, fault, channels } = props;
  const isOnly = channels.length === 1;
  return (
    <Page title="Bring in a file" at="/orders">
      <h1>Bring in a shop's file</h1>
      <p>
        Most shops export order lines as CSV, one line a row. You see first what would be written, and decide then. The
        same file again doubles nothing: what has changed since is shown.
      </p>
      <p>
        A column called Urgent (yes or no) and one called Counts as (1 to {WEIGHT_MAX}) are read too, where a file has
        them. What you have said of an order by hand stays.
      </p>
      <FaultNote fault={fault} />
      <form method="post" action="/orders/import" enctype="multipart/form-data">
        <div class="fields">
          <ReadAs
            channel={sent['channel'] ?? (isOnly ? channels[0]!.code : '')}
            dates={sent['dates'] ?? ''}
            channels={channels}
            fault={fault}
          />
        </div>
        <div class="field">
          <label for="import-file">The file, up to 32 MB</label>
          <input id="import-file" type="file" name="file" accept=".csv,.txt,.tsv,text/csv,text/plain" />
        </div>
        <div class="field">
          <label for="import-text">Or its rows, with their header</label>
          <textarea id="import-text" name="text" spellcheck="false" safe>
            {sent['text'] ?? ''}
          </textarea>
        </div>
        <button type="submit" class="main">
          Look at it
        </button>
      </form>
    </Page>
  );
}

function ReadAs(props: { channel: string; dates: string; channels: Channels; fault: Fault | undefined }): JSX.Element {
  const { channel, dates, channels, fault } = props;
  return (
    <>
      <ChoiceField
        form="import"
        name="channel"
        label="Orders of"
        fault={fault}
        hint="For rows that name no channel"
        value={channel}
        choices={[['', 'the file says it in a column'], ...channels.map(({ code, name }) => [code, name] as const)]}
      />
      <ChoiceField
        form="import"
        name="dates"
        label="Dates are written"
        fault={fault}
        hint="Year first is always understood"
        value={dates}
        choices={DATE_CHOICES}
      />
    </>
  );
}

/** A file that is being read: how far it is. The page asks again by itself until it is through. */
export function FileUnderWay(props: { file: OrderFile; kind: Reading['kind']; rowsRead: number }): JSX.Element {
  const { file, kind, rowsRead } = props;
  const address = `/order-files/${file.id}`;
  const far = Math.min(rowsRead, file.lines);
  return (
    <Page title={kind === 'look' ? 'Looking' : 'Taking'} at="/orders" askAgainSeconds={1}>
      <div hx-get={address} hx-trigger="load delay:300ms" hx-target="#content" hx-select="#content" hx-swap="outerHTML">
        <h1 safe>{kind === 'look' ? `Looking at ${file.name}` : `Taking the rows of ${file.name}`}</h1>
        <p>
          <progress max={String(file.lines)} value={String(far)} aria-label="Rows read"></progress>
        </p>
        <p role="status" safe>
          {`${far.toLocaleString('en')} of about ${file.lines.toLocaleString('en')} rows read.`}
        </p>
        <p class="hint">This goes on if you leave the page. Come back to this address to see what came of it.</p>
        <p>
          <a href={address}>See how far it is</a>
        </p>
      </div>
    </Page>
  );
}

/** A file that cannot be read as it is: why, and where columns are unclear, which is which. */
export function FileUnread({
  file,
  problem,
  channels,
}: {
  file: OrderFile;
  problem: Problem;
  channels: Channels;
}): JSX.Element {
  const isColumns = problem.code === 'columns';
  const header = (problem.extra['header'] ?? []) as string[];
  const matched = (problem.extra['matched'] ?? {}) as Partial<Record<Role, string>>;
  const faults = (problem.extra['faults'] ?? []) as string[];
  return (
    <Page title="The file is not clear" at="/orders">
      <h1 safe>{file.name}</h1>
      <div class="note bad" role="alert">
        {isColumns ? (
          <>
            <p>The columns are not clear yet:</p>
            <ul>
              {faults.map((fault) => (
                <li safe>{fault}</li>
              ))}
            </ul>
          </>
        ) : (
          <p safe>{sayOf(problem).detail}</p>
        )}
      </div>
      <Settings file={file} channels={channels} header={header} matched={matched} />
      <p>
        <a href="/orders/import">Choose another file</a>
      </p>
      <Discard file={file} />
    </Page>
  );
}

interface SettingsProps {
  file: OrderFile;
  channels: Channels;
  header: readonly string[];
  matched: Partial<Record<string, string>>;
}

/** How the file is read, to be said differently. */
function Settings({ file, channels, header, matched }: SettingsProps): JSX.Element {
  const choices = [['', 'no column'] as const, ...header.map((name) => [name, name] as const)];
  return (
    <form method="post" action={`/order-files/${file.id}/settings`}>
      <div class="fields">
        <ReadAs channel={file.channel ?? ''} dates={file.dates ?? ''} channels={channels} fault={undefined} />
        {header.length === 0
          ? ''
          : ROLES.map((role) => (
              <ChoiceField
                form="import"
                name={`map/${role}`}
                label={ROLE_WORDS[role]}
                value={matched[role] ?? ''}
                choices={choices}
              />
            ))}
      </div>
      <button type="submit" class="main">
        Read it so
      </button>
    </form>
  );
}

/** What is in a file and what taking it would do. */
export function FileSeen(props: {
  file: OrderFile;
  report: ImportReport;
  channels: Channels;
  sold: readonly { code: string; name: string }[];
  sent: Sent;
  fault: Fault | undefined;
}): JSX.Element {
  const { file, report, channels, sold, sent, fault } = props;
  const header = [...Object.values(report.file.columns), ...report.file.unread];
  return (
    <Page title={`Look at ${file.name}`} at="/orders">
      <h1 safe>{file.name}</h1>
      <FaultNote fault={fault} />
      <p>Nothing of it is written yet. This is what it would do.</p>
      <Counts report={report} />
      <TakeForm file={file} report={report} />
      <Columns report={report} />
      <details>
        <summary>Read it another way</summary>
        <Settings file={file} channels={channels} header={header} matched={report.file.columns} />
      </details>
      {report.unknownCodeCount > 0 && (
        <UnknownCodes file={file} report={report} sold={sold} sent={sent} fault={fault} />
      )}
      <BadRows report={report} />
      <GoodRows report={report} />
      <Changes report={report} />
      <Discard file={file} />
    </Page>
  );
}

/** A file that waits holds its rows as the shop wrote them, people's names too. */
function Discard({ file }: { file: OrderFile }): JSX.Element {
  return (
    <form method="post" action={`/order-files/${file.id}/discard`}>
      <p>
        <button type="submit">Throw this file away</button>
      </p>
    </form>
  );
}

/** What became of a file whose rows are taken. */
export function FileTaken({ name, report }: { name: string; report: ImportReport }): JSX.Element {
  const taken = report.rows.read - report.rows.bad;
  return (
    <Page title={`${name} is taken`} at="/orders">
      <h1 safe>{name}</h1>
      <p class="note" role="status" safe>
        {`${count(taken, 'row')} of ${report.rows.read.toLocaleString('en')} taken. The next plan takes the new lines in.`}
      </p>
      <div class="row no-print">
        <a class="button main" href="/orders">
          See the orders
        </a>
        <a class="button" href="/week">
          Plan the week
        </a>
        <a class="button" href="/orders/import">
          Bring in another file
        </a>
      </div>
      <Counts report={report} />
      <BadRows report={report} />
      <Changes report={report} />
    </Page>
  );
}

function TakeForm({ file, report }: { file: OrderFile; report: ImportReport }): JSX.Element {
  const { read, bad, known } = report.rows;
  const good = read - bad;
  if (good === known)
    return <p class="note none">{bad > 0 ? 'No row can be taken yet.' : 'Everything in this file is here already.'}</p>;
  return (
    <form method="post" action={`/order-files/${file.id}/take`} class="row">
      <input type="hidden" name="take" value={bad > 0 ? 'good' : 'all'} />
      <button type="submit" class="main" safe>
        {bad > 0 ? `Take the ${count(good, 'good row')}, leave ${bad}` : `Take ${count(good, 'row')}`}
      </button>
      <a class="button" href="/orders/import">
        Choose another file
      </a>
    </form>
  );
}

function Columns({ report }: { report: ImportReport }): JSX.Element {
  const { columns, unread, encoding } = report.file;
  return (
    <>
      <h2>Columns</h2>
      <p>
        {ROLES.filter((role) => columns[role] !== undefined).map((role) => (
          <>
            <span class="pair">
              <span class="hint" safe>
                {`${ROLE_WORDS[role]}: `}
              </span>
              <strong safe>{columns[role]!}</strong>
            </span>{' '}
          </>
        ))}
      </p>
      {unread.length > 0 && <p class="hint" safe>{`Not read: ${unread.join(', ')}`}</p>}
      <p class="hint" safe>{`Text read as ${encoding.toUpperCase()}.`}</p>
    </>
  );
}
