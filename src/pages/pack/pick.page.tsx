import { Get, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { type OrderPath, orderPath } from '../../orders/orders.schema.js';
import { CoverageService } from '../../planning/coverage.service.js';
import { invalid } from '../../platform/problem.js';
import { isoDay, lineOfText } from '../../platform/schema.js';
import { PickService } from '../../shipping/pick.service.js';
import { type ShipmentCreate, shipmentCreate } from '../../shipping/shipping.schema.js';
import { ShipmentsService } from '../../shipping/shipments.service.js';
import { blankIsNone, bodyOf, type Fault, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { isKeptBack, PickListView, shownOf } from './pick-list.js';
import { PickOrderView } from './pick-order.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const LINES_MAX = 500;
const LOTS_MAX = 200;

const listQuery = z.strictObject({
  until: blankIsNone(isoDay),
  place: blankIsNone(lineOfText(120)),
  sent: z.coerce.number().int().positive().optional(),
});

/** What has to go, parcel by parcel. */
@PageController('pick')
export class PickPage {
  constructor(
    private readonly picks: PickService,
    private readonly shipments: ShipmentsService,
    private readonly coverage: CoverageService,
  ) {}

  @Get()
  async list(@Query({ schema: listQuery }) { sent, ...query }: z.infer<typeof listQuery>) {
    const list = await this.picks.list(query);
    const days = await this.coverage.readyDays(shownOf(list).filter(isKeptBack));
    return <PickListView {...{ list, days, query, sent }} />;
  }

  @Get(':channel/:number')
  async order(@Param({ schema: orderPath }) { channel, number }: OrderPath) {
    return <PickOrderView {...await this.seen(channel, number)} />;
  }

  private async seen(channel: string, number: string) {
    const order = await this.picks.order(channel, number);
    return { order, days: await this.coverage.readyDays([order]) };
  }

  @Post(':channel/:number')
  async ship(@Filled(orderPath) { who, path: { channel, number }, sent, reply }: Filled<typeof orderPath>) {
    const { lines, places } = linesOf(sent);
    try {
      if (lines.length === 0) throw invalid('', 'Write of at least one lot how many pieces are in the parcel.');
      const { id } = await this.shipments.ship(who, bodyOf(shipmentCreate, { channel, number, lines }));
      return goTo(reply, '/pick', { sent: String(id) });
    } catch (error) {
      const fault = atFields(faultOf(error, reply), places);
      return <PickOrderView {...await this.seen(channel, number)} refused={{ sent, fault }} />;
    }
  }
}

/** What a form says is in the parcel, and beside each of its lines the field of the form it came from. */
function linesOf(sent: Sent): { lines: ShipmentCreate['lines']; places: { at: string; parts: string[] }[] } {
  const lines: ShipmentCreate['lines'] = [];
  const places: { at: string; parts: string[] }[] = [];
  for (let at = 0; at < LINES_MAX && sent[`lines/${at}/code`] !== undefined; at++) {
    const name = { code: sent[`lines/${at}/code`]!, occurrence: Number(sent[`lines/${at}/occurrence`]) };
    for (const row of rowsOf(sent, `lines/${at}/lots`)) {
      lines.push({ ...name, lot: row.lot, quantity: row.quantity });
      places.push({ at: row.at, parts: [] });
    }
    const sets = written(sent, `lines/${at}/sets`);
    if (sets === undefined || sets === '0') continue;
    const parts = rowsOf(sent, `lines/${at}/parts`);
    lines.push({ ...name, quantity: sets, parts: parts.map(({ lot, quantity }) => ({ lot, quantity })) });
    places.push({ at: `lines/${at}/parts/0`, parts: parts.map((row) => row.at) });
  }
  return { lines, places };
}

function rowsOf(sent: Sent, under: string): { at: string; lot: string; quantity: string }[] {
  const rows = [];
  for (let n = 0; n < LOTS_MAX && sent[`${under}/${n}/lot`] !== undefined; n++) {
    const quantity = written(sent, `${under}/${n}/quantity`);
    if (quantity === undefined || quantity === '0') continue;
    rows.push({ at: `${under}/${n}`, lot: written(sent, `${under}/${n}/lot`) ?? '', quantity });
  }
  return rows;
}

/** Faults that point into what was sent on, at the fields of the form. */
function atFields(fault: Fault, places: readonly { at: string; parts: string[] }[]): Fault {
  const fields = Object.entries(fault.fields).map(([pointer, detail]) => {
    const [, line = '', rest = ''] = /^lines\/(\d+)\/(.*)$/.exec(pointer) ?? [];
    const place = places[Number(line)];
    const [, part = '', field = ''] = /^parts\/(\d+)\/(.*)$/.exec(rest) ?? [];
    const at = field === '' ? place?.at : place?.parts[Number(part)];
    return [at === undefined ? pointer : `${at}/${field === '' ? rest : field}`, detail] as const;
  });
  return { ...fault, fields: Object.fromEntries(fields) };
}
