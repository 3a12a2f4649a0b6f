import type { OrderStatus } from '../../orders/orders.entity.js';
import type { CoveredLine, CoverSource } from '../../planning/covered-line.js';
import { REASONS, count } from '../../ui/words.js';
import { shortDay } from '../../ui/dates.js';
import { partsText, waitText } from '../../ui/sends.js';

/** What a state of an order is called. */
export const ORDER_STATES: Record<OrderStatus, string> = {
  waiting: 'waits for payment',
  confirmed: 'to send',
  fulfilled: 'sent',
  cancelled: 'cancelled',
};

/** The state of an order, marked where it is not on its way. */
export function OrderState({ status }: { status: OrderStatus }): JSX.Element {
  const isOnItsWay = status === 'confirmed' || status === 'fulfilled';
  return (
    <span class={isOnItsWay ? '' : 'mark care'} safe>
      {ORDER_STATES[status]}
    </span>
  );
}

interface Verdict {
  mark: 'good' | 'care' | 'bad';
  words: string;
  /** Why it is not as it should be. */
  why?: string;
  /** The larger, the sooner it must be looked at. */
  rank: number;
}

/** How a line stands, in one word or a few; the worst thing that is true of it. */
function verdictOf(line: CoveredLine, status: OrderStatus): Verdict {
  if (line.open === 0)
    return { mark: 'good', words: line.shipped > 0 || line.quantity === 0 ? 'sent' : 'cancelled', rank: 0 };
  if (status === 'waiting') return { mark: 'care', words: 'not planned before it is paid', rank: 1 };
  const why = line.because === null ? undefined : REASONS[line.because];
  if (line.missing > 0) return { mark: 'bad', words: partly(line.missing, line, 'not covered'), why, rank: 6 };
  if (line.lateDays > 0)
    return {
      mark: 'bad',
      words: `${count(line.lateDays, 'day')} late, ready ${shortDay(line.readyOn!)}`,
      why,
      rank: 5,
    };
  if (line.isOverdue) return { mark: 'bad', words: 'its day is over', rank: 4 };
  if (line.unplanned > 0) return { mark: 'care', words: partly(line.unplanned, line, 'not planned yet'), rank: 3 };
  if (line.sources.some((source) => !source.isSetAside)) return { mark: 'care', words: 'planned', rank: 2 };
  return { mark: 'good', words: 'set aside', rank: 1 };
}

const partly = (part: number, line: CoveredLine, words: string): string =>
  part === line.open ? words : `${part} of ${line.open} ${words}`;

/** Some of it goes later than the rest, or not yet. */
const goesInParts = ({ parts, missing, open }: CoveredLine): boolean =>
  open > 0 && parts !== undefined && parts.length > 0 && (parts.length > 1 || missing > 0);

interface CoverageProps {
  line: CoveredLine;
  status: OrderStatus;
  /** Where it is told what stands in its way. */
  whyLate?: string;
}

/** Not all of it has its lots set aside. */
const isStillPlanned = ({ missing, sources }: CoveredLine): boolean =>
  missing > 0 || sources.some(({ isSetAside }) => !isSetAside);

/** How a line is covered: the mark, and from where each part comes. */
export function Coverage({ line, status, whyLate }: CoverageProps): JSX.Element {
  const verdict = verdictOf(line, status);
  return (
    <>
      <span class={`mark ${verdict.mark}`} safe>
        {verdict.words}
      </span>{' '}
      {line.waitsFor ? (
        <span safe>{`(${waitText(line.waitsFor)})`}</span>
      ) : (
        !!verdict.why && <span safe>{`(${verdict.why})`}</span>
      )}
      {goesInParts(line) && <div safe>{partsText(line.parts!, { ...line, quantity: line.open })}</div>}
      {whyLate !== undefined && verdict.mark === 'bad' && isStillPlanned(line) && (
        <div>
          <a href={whyLate}>What would have to give way?</a>
        </div>
      )}
      {line.sources.length > 0 && (
        <ul class="sources">
          {line.sources.map((source) => (
            <li>
              <Source source={source} />
            </li>
          ))}
        </ul>
      )}
    </>
  );
}

function Source({ source }: { source: CoverSource }): JSX.Element {
  const { from, code, runId, quantity, isSetAside, on } = source;
  const address =
    from === 'lot'
      ? `/shelf/lots/${encodeURIComponent(code)}`
      : from === 'batch' && runId !== null
        ? `/why/batch/${runId}/${encodeURIComponent(code)}`
        : null;
  // a batch that is only proposed has no code yet
  const name = from === 'batch' && code.includes('/') ? 'a proposed batch' : `${from} ${code}`;
  const day = on === null ? '' : `, ${from === 'delivery' ? 'comes' : 'ready'} ${shortDay(on)}`;
  return (
    <>
      <span safe>{`${quantity} from `}</span>
      {address === null ? (
        <span safe>{name}</span>
      ) : (
        <a href={address} safe>
          {name}
        </a>
      )}
      <span safe>{`${day}${isSetAside ? ', set aside' : ''}`}</span>
    </>
  );
}

const LINES_SHOWN = 4;

/** The lines of an order in a list: those that must be looked at first, and how many more there are. */
export function CoveredLines({ lines, status }: { lines: readonly CoveredLine[]; status: OrderStatus }): JSX.Element {
  const rank = (line: CoveredLine) => verdictOf(line, status).rank;
  const shown = [...lines].sort((a, b) => rank(b) - rank(a)).slice(0, LINES_SHOWN);
  return (
    <ul class="lines">
      {shown.map((line) => (
        <li>
          <span safe>{`${line.open === 0 ? line.quantity : line.open} × ${line.name} `}</span>
          <Coverage line={line} status={status} />
        </li>
      ))}
      {lines.length > shown.length && <li safe>{`and ${count(lines.length - shown.length, 'more line')}`}</li>}
    </ul>
  );
}
