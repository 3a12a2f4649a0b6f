import { Get, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { longDay } from '../../ui/dates.js';
import { Clock } from '../../platform/clock.js';
import { invalid } from '../../platform/problem.js';
import { idParam, longText } from '../../platform/schema.js';
import { countCreate } from '../../stock/acts.schema.js';
import { CountService, type CountView } from '../../stock/count.service.js';
import { type PlaceLot, ShelfService } from '../../planning/shelf.service.js';
import {
  bodyOf,
  type Fault,
  FaultNote,
  faultOf,
  goTo,
  type Sent,
  TextField,
  written,
  writtenAmount,
} from '../../ui/form.js';
import { type Freed, freedForAddress, FreedNote, freedQuery } from './elsewhere/freed.js';
import { Page } from '../../ui/layout.js';
import { STATUS_WORDS } from './elsewhere/shelf-words.js';
import { amountText, exactText, moneyText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';
import { FormKey } from '../../ui/form-key.js';
import { Filled, PageController } from '../../ui/page-controller.js';

/** As many as one count may name. */
const LOTS_MAX = 500;
/** Empty text is the place of lots of which no place is said. */
const placeQuery = z.strictObject({ place: longText(120).optional() });
const countPath = z.strictObject({ id: idParam });
const doneQuery = z.strictObject({ freed: freedQuery });

/** Counting a shelf: what the book expects there against what is there. */
@PageController('shelf/count')
export class CountPage {
  constructor(
    private readonly shelf: ShelfService,
    private readonly counts: CountService,
    private readonly clock: Clock,
    private readonly workshop: WorkshopService,
  ) {}

  @Get()
  async show(@Query({ schema: placeQuery }) { place }: z.infer<typeof placeQuery>) {
    if (place === undefined) return <PlacesView places={await this.shelf.places()} />;
    const lots = await this.shelf.at(place, LOTS_MAX + 1);
    return <CountForm place={place} lots={lots} today={await this.clock.today()} />;
  }

  @Post()
  async count(@Filled() { who, sent, reply }: Filled) {
    const place = (sent['place'] ?? '').trim();
    const lots = await this.shelf.at(place, LOTS_MAX + 1);
    const measures = new Map(lots.map((lot) => [lot.lot, lot.measure]));
    // also a lot that is gone from there: the form may be one that was done already
    const counted = Object.keys(sent)
      .filter((name) => name.startsWith('counted.') && written(sent, name) !== undefined)
      .map((name) => name.slice('counted.'.length));
    try {
      if (counted.length === 0) throw invalid('/lots', 'Write down at least one lot that was counted.');
      const body = bodyOf(countCreate, {
        place: place === '' ? undefined : place,
        countedOn: written(sent, 'countedOn'),
        reason: written(sent, 'reason'),
        lots: counted.map((lot) => ({
          lot,
          counted: writtenAmount(written(sent, `counted.${lot}`), measures.get(lot) === 'weighed'),
        })),
      });
      const done = await this.counts.count(who, body);
      const freed = done.lots.flatMap((row) =>
        row.freed.map((broken) => ({ ...broken, measure: measures.get(row.lot) ?? 'counted' })),
      );
      return goTo(reply, `/shelf/count/${done.id}`, { freed: freedForAddress(freed) });
    } catch (error) {
      const fault = faultOf(error, reply);
      const refused = { sent, fault, counted };
      return <CountForm place={place} lots={lots} today={await this.clock.today()} refused={refused} />;
    }
  }

  @Get(':id')
  async done(
    @Param({ schema: countPath }) { id }: z.infer<typeof countPath>,
    @Query({ schema: doneQuery }) { freed }: z.infer<typeof doneQuery>,
  ) {
    const view = await this.counts.get(id);
    const { currency } = await this.workshop.get();
    return <CountedView view={view} freed={freed} currency={currency} />;
  }
}

function PlacesView({ places }: { places: readonly { place: string; lots: number }[] }): JSX.Element {
  return (
    <Page title="Count a shelf" at="/shelf">
      <h1>Count a shelf</h1>
      {places.length === 0 ? (
        <p class="note none">Nothing lies anywhere yet.</p>
      ) : (
        <ul class="places">
          {places.map(({ place, lots }) => (
            <li>
              <a class="button" href={`/shelf/count?place=${encodeURIComponent(place)}`}>
                <span safe>{place === '' ? 'no place said' : place}</span>
                <span class="hint" safe>
                  {count(lots, 'lot')}
                </span>
              </a>
            </li>
          ))}
        </ul>
      )}
    </Page>
  );
}

interface CountFormProps {
  place: string;
  lots: readonly PlaceLot[];
  today: string;
  refused?: { sent: Sent; fault: Fault; counted: readonly string[] };
}

function CountForm({ place, lots, today, refused }: CountFormProps): JSX.Element {
  const name = place === '' ? 'no place said' : place;
  const field = (key: string) => ({ name: key, form: 'count', value: refused?.sent[key], fault: refused?.fault });
  return (
    <Page title={`Count: ${name}`} at="/shelf">
      <h1 safe>{`Count: ${name}`}</h1>
      {lots.length === 0 ? (
        <p class="note none">
          The book has nothing there. <a href="/shelf/count">Other places.</a>
        </p>
      ) : (
        <form method="post" action="/shelf/count">
          <FormKey />
          <input type="hidden" name="place" value={place} />
          <FaultNote fault={refused?.fault} />
          <p class="hint">
            Write what is really there; what you leave empty is not counted and stays as it is. Weights in grams, or
            with a unit: 1.2 kg.
          </p>
          <table class="stack">
            <thead>
              <tr>
                <th>Lot</th>
                <th class="num">The book has</th>
                <th>Really there</th>
              </tr>
            </thead>
            <tbody>
              {lots.slice(0, LOTS_MAX).map((lot) => (
                <CountRow lot={lot} today={today} refused={refused} />
              ))}
            </tbody>
          </table>
          {lots.length > LOTS_MAX && (
            <p class="note care">
              Only the first {LOTS_MAX} lots are shown: count these first, or give lots a nearer place.
            </p>
          )}
          <div class="fields">
            <TextField
              {...field('countedOn')}
              value={field('countedOn').value ?? today}
              type="date"
              label="Counted on"
            />
            <TextField {...field('reason')} label="Why" hint="Such as month's count" required />
          </div>
          <p>
            <button type="submit" class="main">
              Write the count down
            </button>
          </p>
        </form>
      )}
    </Page>
  );
}

function CountRow(props: { lot: PlaceLot; today: string; refused: CountFormProps['refused'] }): JSX.Element {
  const { lot, today, refused } = props;
  const name = `counted.${lot.lot}`;
  const fault = refused?.fault.fields[`lots/${refused.counted.indexOf(lot.lot)}/counted`];
  const isPast = lot.expiresOn !== null && lot.expiresOn < today;
  const about = [
    lot.status === 'released' ? '' : STATUS_WORDS[lot.status],
    lot.expiresOn === null ? '' : `${isPast ? 'past its day,' : 'last day'} ${longDay(lot.expiresOn)}`,
  ].filter((part) => part !== '');
  return (
    <tr>
      <th scope="row">
        <span safe>{lot.name}</span>{' '}
        <a href={`/shelf/lots/${encodeURIComponent(lot.lot)}`} safe>
          {lot.lot}
        </a>
        <div class="hint" safe>
          {about.join(', ')}
        </div>
      </th>
      <td class="num" data-label="The book has" safe>
        {exactText(lot.onHand, lot.measure)}
      </td>
      <td data-label="Really there">
        <input
          name={name}
          aria-label={`Really there of ${lot.name}, lot ${lot.lot}`}
          value={refused?.sent[name] ?? ''}
          size="10"
          maxlength="40"
          autocomplete="off"
          inputmode={lot.measure === 'counted' ? 'numeric' : undefined}
          aria-invalid={fault === undefined ? undefined : 'true'}
          aria-describedby={fault === undefined ? undefined : `fault-${lot.lot}`}
        />
        {fault !== undefined && (
          <div class="fault" id={`fault-${lot.lot}`} safe>
            {fault}
          </div>
        )}
      </td>
    </tr>
  );
}

function CountedView(props: { view: CountView; freed: readonly Freed[] | undefined; currency: string }): JSX.Element {
  const { view, freed, currency } = props;
  const differing = view.lots.filter((row) => row.counted !== row.expected).length;
  return (
    <Page title={`Count ${view.id}`} at="/shelf">
      <h1 safe>{`Counted on ${longDay(view.countedOn)}${view.place === null ? '' : `: ${view.place}`}`}</h1>
      <p class="note" role="status" safe>
        {differing === 0
          ? `All ${count(view.lots.length, 'lot')} agree with the book.`
          : `${count(differing, 'difference')} in ${count(view.lots.length, 'lot')}, written into the book: ${view.reason}.`}
      </p>
      <FreedNote freed={freed} />
      <table class="stack">
        <thead>
          <tr>
            <th>Lot</th>
            <th class="num">The book had</th>
            <th class="num">Really there</th>
            <th class="num">Difference</th>
            <th class="num">Value</th>
          </tr>
        </thead>
        <tbody>
          {view.lots.map((row) => (
            <tr>
              <th scope="row">
                <span safe>{row.name}</span>{' '}
                <a href={`/shelf/lots/${encodeURIComponent(row.lot)}`} safe>
                  {row.lot}
                </a>
              </th>
              <td class="num" data-label="The book had" safe>
                {exactText(row.expected, row.measure)}
              </td>
              <td class="num" data-label="Really there" safe>
                {exactText(row.counted, row.measure)}
              </td>
              <td class="num" data-label="Difference" safe>
                {differenceText(row)}
              </td>
              <td class="num" data-label="Value" safe>
                {row.valueE4 === 0 ? '–' : moneyText(row.valueE4, currency)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {view.notCounted.length !== 0 && (
        <p>
          <span safe>{`Not counted there: ${count(view.notCounted.length, 'lot')}: `}</span>
          {view.notCounted.map((lot) => (
            <>
              <a href={`/shelf/lots/${encodeURIComponent(lot)}`} safe>
                {lot}
              </a>{' '}
            </>
          ))}
        </p>
      )}
      <p class="no-print">
        <a class="button" href="/shelf/count">
          Count another shelf
        </a>
      </p>
    </Page>
  );
}

function differenceText({ expected, counted, measure }: CountView['lots'][number]): string {
  if (counted === expected) return 'none';
  return `${counted > expected ? '+' : ''}${amountText(counted - expected, measure)}`;
}
