import type { ProblemPage } from '../platform/problem-filter.js';
import { asSentence, placeInWords } from '../platform/plain-words.js';
import type { Problem, ProblemPart } from '../platform/problem.js';
import { sayOf } from './form.js';
import type { PageProps } from './layout.js';
import { Page } from './layout.js';

/** What happened, in a person's words. */
const HEADINGS: Record<number, string> = {
  403: 'This is not allowed',
  404: 'This is not here',
  409: 'This cannot be done now',
  413: 'This is too large',
  415: 'This kind of file is not read here',
  422: 'Something is not right yet',
  503: 'The database cannot be reached',
  507: 'The disk is full',
};

/** Of what has a status like others and is another thing. */
const HEADINGS_BY_CODE: Record<string, string> = {
  'out-of-memory': 'The database has no memory free',
  'disk-fault': 'The disk does not work as it should',
};

type Place = PageProps['at'];

/** Where the first step of an address leads back to, what that is called, and the place of the masthead it lies in. */
const WAYS: Record<string, readonly [href: string, name: string, at: Place]> = {
  week: ['/week', 'the week', '/week'],
  why: ['/week', 'the week', '/week'],
  find: ['/week', 'the week', null],
  orders: ['/orders', 'the orders', '/orders'],
  'order-files': ['/orders/import', 'the import of orders', '/orders'],
  bench: ['/bench', 'the bench', '/bench'],
  batches: ['/bench', 'the bench', '/bench'],
  pick: ['/pick', 'what is to be packed', '/pick'],
  labels: ['/labels', 'the labels', '/pick'],
  fairs: ['/fairs', 'the fairs', '/pick'],
  empties: ['/empties', 'the empties', '/pick'],
  shelf: ['/shelf', 'the shelf', '/shelf'],
  formulas: ['/formulas', 'the formulas', '/formulas'],
  reorder: ['/reorder', 'the reorder list', '/reorder'],
  suppliers: ['/suppliers', 'the suppliers', '/reorder'],
  'purchase-orders': ['/purchase-orders', 'the purchase orders', '/reorder'],
  complaints: ['/complaints', 'the complaints', '/complaints'],
  customers: ['/customers', 'the customers', '/complaints'],
  trace: ['/complaints', 'the complaints', '/complaints'],
  recalls: ['/recalls', 'the recalls', '/complaints'],
  reminders: ['/reminders', 'the reminders', '/reminders'],
  start: ['/start', 'the start', '/start'],
};

/**
 * A problem as a page in our frame, with the sentence and a way back; as a piece of a page where the page asked for a
 * piece.
 */
export const problemPage: ProblemPage = ({ path, isPart, requestId }, problem) => {
  const heading =
    HEADINGS_BY_CODE[problem.code] ??
    HEADINGS[problem.status] ??
    (problem.status < 500 ? 'This does not work' : 'Something went wrong here');
  const note = <ProblemNote problem={problem} requestId={requestId} />;
  if (isPart) return note as string;
  const [href, name, at] = WAYS[path.split('/')[1] ?? ''] ?? WAYS['week']!;
  return (
    <Page title={heading} at={at}>
      <h1 safe>{heading}</h1>
      {note}
      <p>
        <a class="button main" href={href} safe>{`Go to ${name}`}</a>
      </p>
      <p class="hint">The browser's way back leads to where you were, with what you typed.</p>
    </Page>
  ) as string;
};

function ProblemNote({ problem, requestId }: { problem: Problem; requestId: string }): JSX.Element {
  return (
    <div class="note bad" role="alert">
      <p safe>{sentenceOf(problem)}</p>
      {problem.errors.length > 1 && (
        <ul>
          {problem.errors.map((part) => (
            <li safe>{atItsPlace(part)}</li>
          ))}
        </ul>
      )}
      {problem.status >= 500 && <p class="hint" safe>{`In the log of the server: ${requestId}`}</p>}
    </div>
  );
}

function sentenceOf(problem: Problem): string {
  if (problem.code === 'no-such-route') return 'There is no page at this address.';
  const [only] = problem.errors;
  const { detail, isOfFields } = sayOf(problem);
  return only && isOfFields && problem.errors.length === 1 ? atItsPlace(only) : detail;
}

/** `/query/status` is the status in the address. */
const atItsPlace = ({ pointer, detail, words }: ProblemPart): string =>
  `${placeInWords(pointer)}: ${words ?? asSentence(detail)}`;
