import { type Help, isInTime, type ServedWorse, type Standing } from '../../kernel/plan/giving-way.js';
import type { NamedLateLine } from '../../planning/late-line.service.js';
import { lineAddress } from '../../ui/addresses.js';
import { amountText } from '../../ui/amounts.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { Page } from '../../ui/layout.js';
import { count, namesText, REASONS } from '../../ui/words.js';

/** What would have to give way for an order line to be in time. */
export function WhyLateView({ late }: { late: NamedLateLine }): JSX.Element {
  const { line, item, quantity, shipBy, way } = late;
  const amount = late.names[item]?.measure === 'weighed' ? amountText(quantity, 'weighed') : `${quantity} ×`;
  const what = `${amount} ${nameOf(late, item)}`;
  return (
    <Page title={`What is in the way of ${line}`} at="/orders">
      <h1 safe>
        {way === null ? `${what}: in time` : `Why is ${what} ${way.now.missing === 0 ? 'late' : 'not covered'}?`}
      </h1>
      <p>
        <a href={lineAddress(line)} safe>{`Order line ${line}`}</a>
        <span safe>{`, to ship by ${longDay(shipBy)}. As everything is now, `}</span>
        <span safe>{way === null ? 'it is covered and in time.' : `it is ${standingText(late, item, way.now)}.`}</span>
      </p>
      {way === null ? (
        <p>Where a page says otherwise, its plan is older: plan the week again to see it.</p>
      ) : (
        <>
          <h2>What would have to give way</h2>
          <First late={late} way={way} />
          <h2>What would help</h2>
          <Helps late={late} help={way.help} />
        </>
      )}
      <p class="no-print">
        <a class="button" href={lineAddress(line)}>
          To the order
        </a>{' '}
        <a class="button" href={`/week/${late.weekStart}`}>
          To the week
        </a>
      </p>
    </Page>
  );
}

type Way = NonNullable<NamedLateLine['way']>;

function First({ late, way }: { late: NamedLateLine; way: Way }): JSX.Element {
  const { now, first, worse, alone } = way;
  return (
    <>
      <p safe>
        {isSame(first, now)
          ? 'To put it before all other orders would change nothing for it.'
          : `Before all other orders it would be ${standingText(late, late.item, first)}.`}
      </p>
      {worse.length > 0 && (
        <>
          <p>Then these would be served worse than now:</p>
          <ul>
            {worse.map((row) => (
              <li>
                <Worse late={late} row={row} />
              </li>
            ))}
          </ul>
        </>
      )}
      {worse.length === 0 && isInTime(first) && (
        <p>No other order would be served worse: call this one urgent on its order, then plan again.</p>
      )}
      {!isInTime(alone) && (
        <p safe>
          {isSame(alone, first)
            ? 'Nor would it help to make nothing else: no order can make room for it.'
            : `No order can make all the room it needs: with nothing else to make it would be ${standingText(late, late.item, alone)}.`}
        </p>
      )}
    </>
  );
}

function Worse({ late, row }: { late: NamedLateLine; row: ServedWorse }): JSX.Element {
  return (
    <>
      <a href={lineAddress(row.key)} safe>{`${nameOf(late, row.item)}, ${row.key}`}</a>
      <span
        safe
      >{`, to ship by ${shortDay(row.shipBy)}: ${standingText(late, row.item, row.instead)} instead of ${standingText(late, row.item, row.now)}`}</span>
    </>
  );
}

function Helps({ late, help }: { late: NamedLateLine; help: readonly Help[] }): JSX.Element {
  if (help.length === 0)
    return (
      <p>
        Nothing that was tried, without serving another order worse: up to 8 hours more on each open day, one more
        vessel, what is short, what is on its way.
      </p>
    );
  return (
    <>
      <p>
        {help.length === 1 ? 'This' : 'Each of these alone'}, with this line before all others, and no other served
        worse than now:
      </p>
      <ul>
        {help.map((one) => (
          <li safe>{helpText(late, one)}</li>
        ))}
      </ul>
    </>
  );
}

function helpText(late: NamedLateLine, { hours, vessel, materials, deliveries, standing }: Help): string {
  const days = hours?.map(
    ({ day, minutes, who }) =>
      `${count(minutes, 'minute')} more on ${shortDay(day)}${who ? `, by ${namesText(who)}` : ''}`,
  );
  const items = materials?.map(
    ({ item, quantity }) => `${amountOf(late, item, quantity)} more of ${nameOf(late, item)}`,
  );
  const keys = deliveries?.map(({ key, day }) => `delivery ${key}, expected ${shortDay(day)}`);
  const what = [
    days && `At the bench ${LIST.format(days)}`,
    vessel && `One more ${vessel.kind} that holds ${amountText(vessel.capacityMg, 'weighed')}`,
    items && `${LIST.format(items)}, here today`,
    keys && `${LIST.format(keys)}, here and ready to be used today`,
  ];
  return `${what.filter(Boolean).join('; ')}: then it would be ${standingText(late, late.item, standing)}`;
}

const LIST = new Intl.ListFormat('en-GB');

const isSame = (one: Standing, other: Standing): boolean =>
  one.readyOn === other.readyOn && one.missing === other.missing && one.because === other.because;

function standingText(late: NamedLateLine, item: string, standing: Standing): string {
  const { readyOn, lateDays, missing, because } = standing;
  const why = because === null ? '' : `: ${REASONS[because]}`;
  if (missing > 0 && because === 'order') return `not covered${why}`;
  if (missing > 0) return `${amountOf(late, item, missing)} short${because === 'short' ? '' : why}`;
  if (lateDays > 0) return `${count(lateDays, 'day')} late, ready ${shortDay(readyOn!)}${why}`;
  return readyOn === null ? 'in time' : `in time, ready ${shortDay(readyOn)}`;
}

const nameOf = (late: NamedLateLine, item: string): string => late.names[item]?.name ?? item;

const amountOf = (late: NamedLateLine, item: string, quantity: number): string =>
  amountText(quantity, late.names[item]?.measure ?? 'counted');
