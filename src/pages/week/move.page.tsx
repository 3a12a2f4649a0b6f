import { Body, Get, HttpCode, Param, Post, Redirect } from '@nestjs/common';
import { z } from 'zod';
import { ChangeService } from '../../planning/change.service.js';
import type { ChangedBatch } from '../../planning/planning.schema.js';
import { type Week, type WeekPour, WeekService } from '../../planning/week.service.js';
import { Who } from '../../platform/person.js';
import { notFound } from '../../platform/problem.js';
import { idParam, isoDay, readableCode } from '../../platform/schema.js';
import { amountText } from '../../ui/amounts.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { PageController } from '../../ui/page-controller.js';
import { fewText, washText } from '../../ui/words.js';
import { isMovable, moveAddress } from './pour.js';

const batchPath = z.strictObject({ start: isoDay, run: idParam, code: readableCode });
const moveForm = z.strictObject({ day: isoDay });

/** A batch of a week goes to another day: to which, what that would do, and that it is done. */
@PageController('week/:start/runs/:run/batches/:code')
export class MovePage {
  constructor(
    private readonly weeks: WeekService,
    private readonly changes: ChangeService,
  ) {}

  @Get('move')
  async ask(@Param({ schema: batchPath }) { start, run, code }: z.infer<typeof batchPath>) {
    const week = await this.weeks.week(start);
    const pour = week.pours.find((one) => one.code === code && one.runId === run);
    if (!pour) throw notFound('batch', code);
    return <MoveView week={week} pour={pour} />;
  }

  /** What moving a batch would do, before it is done. */
  @Post('move-preview')
  @HttpCode(200)
  async preview(
    @Who() who: string,
    @Param({ schema: batchPath }) { start, run, code }: z.infer<typeof batchPath>,
    @Body({ schema: moveForm }) { day }: z.infer<typeof moveForm>,
  ) {
    const change = await this.changes.change(who, run, code, { day, preview: true, why: '' });
    return <MovePreview start={start} run={run} change={change} />;
  }

  @Post('move')
  @Redirect()
  async move(
    @Who() who: string,
    @Param({ schema: batchPath }) { start, run, code }: z.infer<typeof batchPath>,
    @Body({ schema: moveForm }) { day }: z.infer<typeof moveForm>,
  ) {
    await this.changes.change(who, run, code, { day, preview: false, why: 'moved on the week page' });
    return { url: `/week/${start}?said=moved`, statusCode: 303 };
  }
}

function MoveView({ week, pour }: { week: Week; pour: WeekPour }): JSX.Element {
  return (
    <Page title={`Move ${pour.code}`} at="/week">
      <h1 safe>{`Move ${pour.code}`}</h1>
      <p safe>
        {`${amountText(pour.output, pour.measure)} of ${pour.name}, on ${longDay(pour.day)}, ${pour.minutes} bench minutes.`}
      </p>
      {isMovable(pour) ? (
        <MoveForm week={week} pour={pour} />
      ) : (
        <p>It cannot be moved: a batch goes to another day until it is weighed.</p>
      )}
      <p>
        <a class="button" href={`/week/${week.start}`}>
          Back to the week
        </a>
      </p>
    </Page>
  );
}

function MoveForm({ week, pour }: { week: Week; pour: WeekPour }): JSX.Element {
  return (
    <form class="row" method="post" action={`${moveAddress(week.start, pour)}-preview`}>
      <label>
        Move to
        <select name="day">
          {week.days.map((day) => (
            <option value={day.day} selected={day.day === pour.day} safe>
              {dayText(day)}
            </option>
          ))}
        </select>
      </label>
      <button type="submit" class="main">
        See what that does
      </button>
    </form>
  );
}

const dayText = ({ day, minutesOpen, minutesUsed }: Week['days'][number]): string =>
  minutesOpen === 0 ? `${shortDay(day)}, closed` : `${shortDay(day)}, ${minutesUsed} of ${minutesOpen} min used`;

function MovePreview({ start, run, change }: { start: string; run: number; change: ChangedBatch }): JSX.Element {
  return (
    <Page title={`Move ${change.code}`} at="/week">
      <h1 safe>{`Move ${change.code} to ${longDay(change.day)}?`}</h1>
      <ul>
        <li safe>{`Ready on ${longDay(change.readyOn)}`}</li>
        <li class={change.minutesUsed > change.minutesOpen ? 'fault' : undefined} safe>
          {`${change.minutesUsed} of ${change.minutesOpen} bench minutes used that day`}
        </li>
        {change.few.map((few) => (
          <li class={few.minutesUsed > few.minutesOpen ? 'fault' : undefined} safe>
            {fewText(few)}
          </li>
        ))}
        {!!change.wash && <li safe>{washText(change.wash, change.vessel!)}</li>}
        {change.late.map((row) => (
          <li class="fault" safe>{`${row.order} would be late: ship by ${shortDay(row.shipBy)}`}</li>
        ))}
        {change.freed.map((row) => (
          <li safe>{`Gives back lot ${row.lot} of ${row.item}`}</li>
        ))}
        {change.taken.map((row) => (
          <li safe>{`Sets aside lot ${row.lot} of ${row.item}`}</li>
        ))}
        {change.late.length === 0 && <li>No order becomes late.</li>}
      </ul>
      <form class="row" method="post" action={moveAddress(start, { runId: run, code: change.code })}>
        <FormKey />
        <input type="hidden" name="day" value={change.day} />
        <button type="submit" class="main">
          Move it
        </button>
        <a class="button" href={`/week/${start}`}>
          Leave it
        </a>
      </form>
    </Page>
  );
}
