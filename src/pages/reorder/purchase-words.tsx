import { shortDay } from '../../ui/dates.js';
import type { PurchaseOrderView, PurchaseStatus, SENT_BY } from '../../purchasing/purchase-orders.schema.js';

export const PURCHASE_SAID = {
  drafted: 'It is written down as a draft: look through it, then send it to the supplier.',
  changed: 'The draft is changed.',
  sent: 'It is written down that you sent it. What it holds counts as coming.',
  emailed: 'The email leaves in a moment, with the order to read and as a table. What it holds counts as coming.',
  'taken-back': 'It is a draft again.',
  confirmed: 'It is expected on the days that were confirmed.',
  freight: 'The freight is shared anew.',
  received: 'What came is on the shelf.',
  dated: 'It is expected on the new day.',
  ended: 'Nothing more of that delivery is expected.',
  cancelled: 'What had not come is given up.',
} as const;

/** How whoever sent it says they did: nothing of it left from here. */
export const SENT_BY_WORDS: Record<(typeof SENT_BY)[number], string> = {
  email: 'by an email of your own',
  telephone: 'by telephone',
  web: 'on their website',
  download: 'as a file you took from here',
  other: 'by letter or another way',
};

/** How it went to the supplier, and whether from here or by hand. */
export function sentWords({ sentOn, sentBy, letter }: PurchaseOrderView): string[] {
  if (sentOn === null || sentBy === null) return [];
  if (letter === null) return [`sent ${shortDay(sentOn)} ${SENT_BY_WORDS[sentBy]}`];
  if (letter.status === 'sent') return [`emailed from here ${shortDay(sentOn)} to ${letter.to}`];
  return [letter.error === '' ? 'to be emailed from here' : 'not emailed yet'];
}

const STATUS_WORDS: Record<PurchaseStatus, readonly [words: string, mark: 'good' | 'care' | 'bad' | '']> = {
  draft: ['draft, not sent', 'care'],
  sent: ['sent, not confirmed', 'care'],
  confirmed: ['on its way', ''],
  'partly-received': ['partly here', 'care'],
  received: ['here', 'good'],
  cancelled: ['given up', 'bad'],
};

export function StatusMark({ status }: { status: PurchaseStatus }): JSX.Element {
  const [words, mark] = STATUS_WORDS[status];
  return (
    <span class={`mark ${mark}`} safe>
      {words}
    </span>
  );
}

/** The order to send: to read, and as a table. */
export function OrderFiles({ code }: { code: string }): JSX.Element {
  return (
    <p class="row no-print">
      <a class="button" href={`/api/purchase-orders/${code}/order.pdf`}>
        As a PDF
      </a>
      <a class="button" href={`/api/purchase-orders/${code}/order.csv`} download="">
        As a table (CSV)
      </a>
    </p>
  );
}

/** What became of the email it went out in; nothing once it has left, which the facts say. */
export function LetterNote({ order }: { order: PurchaseOrderView }): JSX.Element {
  const { letter } = order;
  if (letter === null || letter.status === 'sent' || letter.status === 'dropped') return <></>;
  if (letter.error === '')
    return (
      <p class="note" safe>
        {`The email to ${letter.to} is about to leave.`}
      </p>
    );
  return (
    <p class="note bad">
      <span safe>{`The email to ${letter.to} has not left: ${letter.error}`}</span>{' '}
      {letter.status === 'given-up' ? 'It is not tried again by itself.' : 'It is tried again.'}{' '}
      <a href="/reminders/settings">How sending goes</a>
    </p>
  );
}

/** The next day something of it is expected, or when it was sent; null of a draft. */
export function comesWords({ deliveries, sentOn }: PurchaseOrderView, today: string): string | null {
  const next = deliveries
    .filter(({ status }) => status === 'expected')
    .map(({ expectedOn }) => expectedOn)
    .sort()[0];
  if (next !== undefined) return next < today ? `was to come ${shortDay(next)}` : `comes ${shortDay(next)}`;
  return sentOn === null ? null : `sent ${shortDay(sentOn)}`;
}

/** Money as it is written into a field: 38.50, and more decimals only where there are. */
export function moneyField(valueE4: number): string {
  const cents = (valueE4 / 10_000).toFixed(2);
  return Math.round(Number(cents) * 10_000) === valueE4 ? cents : (valueE4 / 10_000).toFixed(4);
}
