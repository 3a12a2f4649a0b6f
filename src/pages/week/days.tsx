import { whoMay } from '../../people/who-may.js';
import type { Week, WeekPour } from '../../planning/week.service.js';
import { amountText } from '../../ui/amounts.js';
import { shortDay } from '../../ui/dates.js';
import { count, decantText, fewText, restWord, waitsText, washText, whoMayText } from '../../ui/words.js';
import { OnHold } from '../bench/elsewhere/on-hold.js';
import { UrgentMark } from '../orders/elsewhere/urgent-mark.js';
import { isAhead, isMovable, isToMake, madeForText, moveAddress, whyAddress } from './pour.js';

/** The days of a week: what is past in a line each, what is to come whole, closed days together. */
export function Days({ week }: { week: Week }): JSX.Element {
  const isMade = ({ day }: Hours): boolean => week.pours.some((pour) => pour.day === day);
  const shown = week.days.filter((day) => day.minutesOpen > 0 || isMade(day));
  const closed = week.days.filter((day) => !shown.includes(day)).map(({ day }) => shortDay(day));
  return (
    <>
      {shown.map((day) => (day.day < week.today ? <PastDay week={week} load={day} /> : <Day week={week} load={day} />))}
      {closed.length > 0 && <p safe>{`Closed: ${closed.join(', ')}`}</p>}
    </>
  );
}

type Hours = Week['days'][number];

function PastDay({ week, load }: { week: Week; load: Hours }): JSX.Element {
  const pours = week.pours.filter((pour) => pour.day === load.day);
  const left = pours.filter(isToMake).length;
  if (pours.length === 0) return <p class="hint" safe>{`${shortDay(load.day)}: nothing was planned`}</p>;
  return (
    <details>
      <summary class={left > 0 ? 'fault' : undefined} safe>
        {`${shortDay(load.day)}: ${count(pours.length, 'batch', 'batches')}${left > 0 ? `, ${left} not begun` : ''}`}
      </summary>
      <Pours week={week} pours={pours} />
    </details>
  );
}

/** A day with its bench minutes and what is made on it. */
function Day({ week, load }: { week: Week; load: Hours }): JSX.Element {
  const pours = week.pours.filter((pour) => pour.day === load.day);
  const washing = pours.reduce((sum, { wash }) => sum + (wash?.minutes ?? 0), 0);
  return (
    <section data-day={load.day}>
      <h2>
        <span safe>{`${shortDay(load.day)}: `}</span>
        <a href={`/why/bench/${load.day}`} safe>{`${load.minutesUsed} of ${load.minutesOpen} bench minutes`}</a>
        {washing > 0 && <span>, {washing} of them for washing</span>}
      </h2>
      {load.few
        .filter((few) => few.minutesUsed > few.minutesOpen && isAhead(few, pours))
        .map((few) => (
          <p class="fault" safe>
            {fewText(few)}
          </p>
        ))}
      {pours.length === 0 ? <p class="hint">Nothing on this day.</p> : <Pours week={week} pours={pours} />}
    </section>
  );
}

function Pours({ week, pours }: { week: Week; pours: readonly WeekPour[] }): JSX.Element {
  return (
    <table class="stack pours">
      <thead>
        <tr>
          <th>What</th>
          <th class="num">How much</th>
          <th>In</th>
          <th>Ready</th>
          <th>Made for</th>
          <th>State</th>
        </tr>
      </thead>
      <tbody>
        {pours.map((pour) => (
          <PourRow week={week} pour={pour} />
        ))}
      </tbody>
    </table>
  );
}

function PourRow({ week, pour }: { week: Week; pour: WeekPour }): JSX.Element {
  const rests = pour.readyOn > pour.day;
  const who = isToMake(pour) ? whoMay(week.people, pour.skill) : null;
  return (
    <tr data-movable={isMovable(pour) ? pour.code : undefined}>
      <th scope="row">
        <a href={whyAddress(pour)} safe>
          {pour.name}
        </a>
        <div class="hint" safe>
          {who === null ? pour.code : `${pour.code}: ${whoMayText(who)}`}
        </div>
      </th>
      <td class="num" data-label="How much">
        <span safe>{amountText(pour.output, pour.measure)}</span>
        {pour.least !== null && (
          <div class="hint" safe>
            {`less than the ${amountText(pour.least, pour.measure)} a batch should be`}
          </div>
        )}
      </td>
      <td data-label="In">
        <span safe>{pour.vessel ?? 'the bench'}</span>
        {!!pour.wash && (
          <div class="hint" safe>
            {washText(pour.wash, pour.vessel!)}
          </div>
        )}
        {/* a plan of an earlier version does not say */}
        {!!pour.decant && (
          <div class="hint" safe>
            {decantText(pour.decant, pour.vessel!)}
          </div>
        )}
      </td>
      <td data-label="Ready">
        {rests ? `${restWord(pour.family, pour.vessel !== null)} until ${shortDay(pour.readyOn)}` : 'the same day'}
      </td>
      <td data-label="Made for">
        <span safe>{madeForText(pour)}</span> {pour.isUrgent && <UrgentMark />}
      </td>
      <td data-label="State">
        <StateMark pour={pour} who={who} />
        {isMovable(pour) && (
          <a class="no-print" href={moveAddress(week.start, pour)} aria-label={`Move ${pour.code}`} data-move>
            Move
          </a>
        )}
      </td>
    </tr>
  );
}

function StateMark({ pour, who }: { pour: WeekPour; who: string[] | null }): JSX.Element {
  if (pour.isShort) return <span class="mark bad">short</span>;
  if (pour.onHold.length > 0) return <OnHold lots={pour.onHold} />;
  if (pour.status === 'proposed') {
    const why = pour.heldUpBy ? `, ${waitsText(pour.heldUpBy, who)}` : '';
    return (
      <span class="mark care" safe>
        {`proposed${why}`}
      </span>
    );
  }
  return (
    <span class="mark good" safe>
      {pour.status === 'reserved' ? 'lots set aside' : pour.status}
    </span>
  );
}
