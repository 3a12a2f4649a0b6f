import type { Week } from '../../planning/week.service.js';
import { longDay } from '../../ui/dates.js';
import { Page } from '../../ui/layout.js';
import { amountText } from '../../ui/amounts.js';
import { fewText, washText } from '../../ui/words.js';

/** What the bench minutes of a day come from: each pour, filling and packing of it. */
export function WhyBenchView({ week, day }: { week: Week; day: string }): JSX.Element {
  const load = week.days.find((row) => row.day === day)!;
  const pours = week.pours.filter((pour) => pour.day === day);
  return (
    <Page title={`Bench minutes, ${longDay(day)}`} at="/week">
      <h1 safe>{`Why ${load.minutesUsed} bench minutes on ${longDay(day)}?`}</h1>
      <ul>
        <li safe>{openText(load)}</li>
        <li>
          A batch takes its formula's minutes, for a product its seconds for each one made, and those for washing its
          vessel first.
        </li>
        <li
          safe
        >{`${load.minutesOpen} - ${load.minutesUsed}: ${load.minutesOpen - load.minutesUsed} minutes are left.`}</li>
        {load.few.map((few) => (
          <li safe>{fewText(few)}</li>
        ))}
      </ul>
      {pours.length === 0 ? <p>Nothing is made on this day.</p> : <Minutes pours={pours} total={load.minutesUsed} />}
      <p class="no-print">
        <a class="button" href={`/week/${week.start}`}>
          To the week
        </a>
      </p>
    </Page>
  );
}

function openText({ minutesOpen, people }: Week['days'][number]): string {
  if (minutesOpen === 0) return people ? 'Nobody works that day.' : 'The bench is closed that day.';
  if (!people) return `The bench is open for ${minutesOpen} minutes, as the workshop's weekdays and closed days say.`;
  const each = people.map(({ name, minutes }) => `${name} ${minutes}`);
  return `Those who work that day have ${minutesOpen} minutes: ${each.join(', ')}.`;
}

function Minutes({ pours, total }: { pours: Week['pours']; total: number }): JSX.Element {
  return (
    <table class="stack dense">
      <thead>
        <tr>
          <th>What</th>
          <th class="num">How much</th>
          <th class="num">Minutes</th>
        </tr>
      </thead>
      <tbody>
        {pours.map((pour) => (
          <tr>
            <th scope="row">
              <a href={`/why/batch/${pour.runId}/${encodeURIComponent(pour.code)}`} safe>
                {pour.name}
              </a>
              {!!pour.wash && (
                <div class="hint" safe>
                  {washText(pour.wash, pour.vessel!)}
                </div>
              )}
            </th>
            <td class="num" data-label="How much" safe>
              {amountText(pour.output, pour.measure)}
            </td>
            <td class="num" data-label="Minutes">
              {pour.minutes}
            </td>
          </tr>
        ))}
      </tbody>
      <tfoot>
        <tr>
          <th scope="row">All of it</th>
          <td></td>
          <td class="num" data-label="Minutes">
            {total}
          </td>
        </tr>
      </tfoot>
    </table>
  );
}
