import { Get, Param, Redirect } from '@nestjs/common';
import { z } from 'zod';
import { ItemsService } from '../../catalog/items.service.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { addDays, dayOf, weekdayOf } from '../../kernel/measure/day.js';
import { PPB_ONE } from '../../kernel/measure/quantity.js';
import { type WhyBatch, type WhyInput, WhyService, type WhyShort } from '../../planning/why.service.js';
import { count, decantText, restWord, SIZE_LIMITS, waitsText, whoMayText } from '../../ui/words.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { LateLineService } from '../../planning/late-line.service.js';
import { WeekService } from '../../planning/week.service.js';
import { notFound } from '../../platform/problem.js';
import { idParam, isoDay, itemCode, lineOfText } from '../../platform/schema.js';
import { SuppliersService } from '../../purchasing/suppliers.service.js';
import { ReorderService } from '../../reorder/reorder.service.js';
import { Page } from '../../ui/layout.js';
import { lineAddress } from '../../ui/addresses.js';
import { amountText } from '../../ui/amounts.js';
import { WhyBenchView } from './why-bench.js';
import { WhyLateView } from './why-late.js';
import { WhyNeedView } from './why-need.js';
import { WhyReorderView } from './why-reorder.js';
import { PageController } from '../../ui/page-controller.js';

const batchPath = z.strictObject({ run: idParam, code: lineOfText(80) });
const itemPath = z.strictObject({ run: idParam, item: itemCode });
const onlyItem = z.strictObject({ item: itemCode });
const linePath = z.strictObject({ line: lineOfText(200) });
const benchPath = z.strictObject({ day: isoDay });

/** Where a number comes from: whom it is for, the arithmetic in one line each, and links onward. */
@PageController('why')
export class WhyPage {
  constructor(
    private readonly why: WhyService,
    private readonly weeks: WeekService,
    private readonly lateLines: LateLineService,
    private readonly reorders: ReorderService,
    private readonly suppliers: SuppliersService,
    private readonly items: ItemsService,
    private readonly workshop: WorkshopService,
  ) {}

  @Get('batch/:run/:code')
  async batch(@Param({ schema: batchPath }) { run, code }: z.infer<typeof batchPath>) {
    return <WhyBatchView why={await this.why.batch(run, code)} />;
  }

  @Get('short/:run/:item')
  async short(@Param({ schema: itemPath }) { run, item }: z.infer<typeof itemPath>) {
    return <WhyShortView why={await this.why.short(run, item)} />;
  }

  @Get('need/:run/:item')
  async need(@Param({ schema: itemPath }) { run, item }: z.infer<typeof itemPath>) {
    return <WhyNeedView why={await this.why.need(run, item)} />;
  }

  /** In the newest plan, which has an address of its own. */
  @Get('need/:item')
  @Redirect()
  async newestNeed(@Param({ schema: onlyItem }) { item }: z.infer<typeof onlyItem>) {
    const run = await this.why.newest();
    if (run === null) throw notFound("week's plan that takes", item);
    return { url: `/why/need/${run}/${item}`, statusCode: 302 };
  }

  @Get('reorder/:item')
  async reorder(@Param({ schema: onlyItem }) { item: code }: z.infer<typeof onlyItem>) {
    const item = await this.items.get(code);
    const { rows, today } = await this.reorders.list();
    const { packs } = await this.suppliers.packs({ item: code });
    const { currency } = await this.workshop.get();
    const row = rows.find((one) => one.item === code) ?? null;
    return <WhyReorderView {...{ item, today, row, packs, currency }} />;
  }

  /** What would have to give way for an order line to be in time. */
  @Get('late/:line')
  async late(@Param({ schema: linePath }) { line }: z.infer<typeof linePath>) {
    return <WhyLateView late={await this.lateLines.named(line)} />;
  }

  /** What takes the bench minutes of a day. */
  @Get('bench/:day')
  async bench(@Param({ schema: benchPath }) { day }: z.infer<typeof benchPath>) {
    const week = await this.weeks.week(addDays(day, -weekdayOf(dayOf(day))));
    return <WhyBenchView week={week} day={day} />;
  }
}

function WhyBatchView({ why }: { why: WhyBatch }): JSX.Element {
  const { item } = why;
  return (
    <Page title={`Why ${item.name}, ${why.code}`} at="/week">
      <h1 safe>{`Why ${amountText(why.output, item.measure)} of ${item.name}?`}</h1>
      <p class="hint" safe>{`Batch ${why.code}`}</p>
      <h2>Made for</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>Whom</th>
            <th>Ship by</th>
            <th class="num">How much</th>
          </tr>
        </thead>
        <tbody>
          {why.madeFor.map((peg) => (
            <tr>
              <th scope="row">
                <PegLink why={why} peg={peg} />
              </th>
              <td data-label="Ship by">{peg.shipBy ? shortDay(peg.shipBy) : 'no day'}</td>
              <td class="num" data-label="How much" safe>
                {amountText(peg.quantity, item.measure)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <h2>The arithmetic</h2>
      <ul>
        {arithmeticOf(why).map((line) => (
          <li safe>{line}</li>
        ))}
      </ul>
      <h2>What goes in</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>What</th>
            <th class="num">How much</th>
            <th>Needed on</th>
            <th>Taken from</th>
          </tr>
        </thead>
        <tbody>
          {why.inputs.map((input) => (
            <InputRow why={why} input={input} />
          ))}
        </tbody>
      </table>
    </Page>
  );
}

function PegLink({ why, peg }: { why: WhyBatch; peg: WhyBatch['madeFor'][number] }): JSX.Element {
  if (peg.for === 'stock')
    return <>{why.item.target > 0 ? 'Stock, up to its target' : 'Stock: what a full batch leaves over'}</>;
  if (peg.for === 'batch')
    return (
      <a href={`/why/batch/${why.runId}/${encodeURIComponent(peg.key)}`} safe>
        {`Batch ${peg.key}`}
      </a>
    );
  return (
    <a href={lineAddress(peg.key)} safe>
      {`Order ${peg.key}`}
    </a>
  );
}

/** Each step from what is wanted to what is put in, and from the day it is wanted to the day it is made. */
function arithmeticOf(why: WhyBatch): string[] {
  const { item, formula } = why;
  const amount = (quantity: number): string => amountText(quantity, item.measure);
  const wanted = why.madeFor.filter((peg) => peg.for !== 'stock').reduce((sum, peg) => sum + peg.quantity, 0);
  const lines = [`Wanted for orders and other batches: ${amount(wanted)}; for stock: ${amount(why.output - wanted)}.`];
  if (formula) {
    const step = formula.batchMultiple > 1 ? ` in steps of ${amount(formula.batchMultiple)}` : '';
    const least = `A batch is at least ${amount(formula.batchMin)}${step}`;
    lines.push(
      why.output >= formula.batchMin
        ? `${least}: so ${amount(why.output)} is to come out.`
        : `${least}, but only ${amount(why.output)} is to come out${why.belowLeast ? `: ${SIZE_LIMITS[why.belowLeast]}` : ''}.`,
    );
    if (item.kind === 'bulk')
      lines.push(
        `Put in: (${amount(why.output)} + ${amount(formula.residueMg)} left in the vessel) / (1 - ${percent(formula.lossPpb)} lost), ` +
          `up to the scale's ${amountText(why.scaleStepMg, 'weighed')}: ${amountText(why.putInMg, 'weighed')}.`,
      );
  }
  if (why.latestDay)
    lines.push(
      `To be in time with ${count(why.slackDays, 'day')} to spare it had to begin by ${longDay(why.latestDay)}.`,
    );
  if (why.day && why.readyOn) {
    const rest =
      why.readyOn > why.day ? `; it ${restWord(item.family, why.vessel !== null)} until ${longDay(why.readyOn)}` : '';
    lines.push(`It is made on ${longDay(why.day)}${why.vessel ? ` in ${why.vessel}` : ''}${rest}.`);
  }
  if (why.decant && why.vessel) lines.push(decantText(why.decant, why.vessel));
  if (why.who && formula?.skill) lines.push(`It asks for ${formula.skill}: ${whoMayText(why.who)}.`);
  if (why.heldUpBy)
    lines.push(
      `${why.day === null ? 'It has no day' : 'It is later than it should be'}: ${waitsText(why.heldUpBy, why.who)}.`,
    );
  // what has no day is given nothing, whatever lies on the shelf
  if (why.isShort && why.day !== null) lines.push('Something it needs is short, so nothing is set aside for it.');
  return lines;
}

const percent = (ppb: number): string => `${((ppb / PPB_ONE) * 100).toFixed(2).replace(/\.?0+$/, '')} %`;

function InputRow({ why, input }: { why: WhyBatch; input: WhyInput }): JSX.Element {
  return (
    <tr>
      <th scope="row">
        <a href={`/shelf/items/${input.item}`} safe>
          {input.name}
        </a>
      </th>
      <td class="num" data-label="How much" safe>
        {amountText(input.quantity, input.measure)}
      </td>
      <td data-label="Needed on">{input.needOn ? shortDay(input.needOn) : 'no day yet'}</td>
      <td data-label="Taken from">
        {input.taken.map((taken) => (
          <div>
            {taken.from === 'lot' ? (
              <a href={`/shelf/lots/${encodeURIComponent(taken.key)}`} safe>{`lot ${taken.key}`}</a>
            ) : taken.from === 'batch' ? (
              <a href={`/why/batch/${why.runId}/${encodeURIComponent(taken.key)}`} safe>{`batch ${taken.key}`}</a>
            ) : (
              <span safe>{`${taken.from === 'delivery' ? 'delivery' : 'batch'} ${taken.key}`}</span>
            )}
            <span safe>
              {`: ${amountText(taken.quantity, input.measure)}${taken.expiresOn ? `, good until ${shortDay(taken.expiresOn)}` : ''}`}
            </span>
          </div>
        ))}
        {input.missing > 0 && (
          <span class="mark bad" safe>
            {`${amountText(input.missing, input.measure)} short`}
          </span>
        )}
        {input.stocked ? '' : 'from the tap'}
      </td>
    </tr>
  );
}

function WhyShortView({ why }: { why: WhyShort }): JSX.Element {
  const { item, shortfall } = why;
  const amount = (quantity: number): string => amountText(quantity, item.measure);
  const orderBy = shortfall.orderBy
    ? `Needed on ${longDay(shortfall.needOn)}, less ${count(why.receivingDays, 'day')} for receiving, less ${count(why.leadDays ?? 0, 'day')} of the supplier: order by ${longDay(shortfall.orderBy)}${shortfall.tooLate ? ', which is past' : ''}.`
    : 'No supplier is known to sell it, so there is no last day to order.';
  return (
    <Page title={`Why ${item.name} is short`} at="/week">
      <h1 safe>{`Why is ${amount(shortfall.quantity)} of ${item.name} short?`}</h1>
      <h2>The arithmetic</h2>
      <ul>
        <li
          safe
        >{`Needed by the batches below: ${amount(why.needed.reduce((sum, row) => sum + row.quantity, 0))}.`}</li>
        <li
          safe
        >{`On the shelf and free: ${amount(why.lots.reduce((sum, lot) => sum + lot.free, 0))}; on the way: ${amount(why.deliveries.reduce((sum, row) => sum + row.free, 0))}.`}</li>
        <li
          safe
        >{`What is there is given to orders first, in the order of their days; ${amount(shortfall.quantity)} stays uncovered.`}</li>
        <li safe>{orderBy}</li>
        {shortfall.packs.map((pack) => (
          <li safe>{`Cheapest packs that cover it: ${pack.count} x ${pack.key}.`}</li>
        ))}
      </ul>
      <h2>Whom it hurts</h2>
      <ul>
        {shortfall.hurts.lines.map((line) => (
          <li>
            <a href={lineAddress(line)} safe>{`Order line ${line}`}</a>
          </li>
        ))}
        {shortfall.hurts.lines.length === 0 && <li>No order: only stock waits for it.</li>}
      </ul>
      <WhoNeedsIt why={why} />
      <p class="no-print">
        <a class="button" href={`/shelf/items/${item.code}`}>
          To its lots
        </a>{' '}
        <a class="button" href="/reorder">
          To the reorder list
        </a>
      </p>
    </Page>
  );
}

function WhoNeedsIt({ why }: { why: WhyShort }): JSX.Element {
  const amount = (quantity: number): string => amountText(quantity, why.item.measure);
  return (
    <>
      <h2>Who needs it</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>Batch</th>
            <th>Day</th>
            <th class="num">Needs</th>
            <th class="num">Short</th>
          </tr>
        </thead>
        <tbody>
          {why.needed.map((row) => (
            <tr>
              <th scope="row">
                <a href={`/why/batch/${why.runId}/${encodeURIComponent(row.key)}`} safe>
                  {row.key}
                </a>
              </th>
              <td data-label="Day">{row.day ? shortDay(row.day) : 'no day yet'}</td>
              <td class="num" data-label="Needs" safe>
                {amount(row.quantity)}
              </td>
              <td class="num" data-label="Short" safe>
                {amount(row.missing)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}
