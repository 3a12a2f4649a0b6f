import { Get, HttpCode, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { type Found, FindService } from '../../trace/find.service.js';
import { lineOfText } from '../../platform/schema.js';
import { blankIsNone } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { orderAddress } from '../../ui/addresses.js';
import { PageController } from '../../ui/page-controller.js';

const findQuery = z.strictObject({ q: blankIsNone(lineOfText(120)) });

/** From any code to its page. */
@PageController('find')
export class FindPage {
  constructor(private readonly finder: FindService) {}

  @Get()
  @HttpCode(200)
  async find(
    @Query({ schema: findQuery }) { q }: z.infer<typeof findQuery>,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const found = q === undefined ? [] : await this.finder.find(q);
    const exact = found.filter(({ isExact }) => isExact);
    if (exact.length !== 1) return <FoundView q={q} found={found} />;
    void reply.status(302).header('location', addressOf(exact[0]!));
    return '';
  }
}

const KINDS: Record<Found['kind'], string> = {
  order: 'Order',
  lot: 'Lot',
  batch: 'Batch',
  item: 'Item',
  'purchase-order': 'Purchase order',
  supplier: 'Supplier',
  vessel: 'Vessel',
  customer: 'Customer',
  complaint: 'Complaint',
};

function addressOf({ kind, code, channel, runId, customerId }: Found): string {
  const named = encodeURIComponent(code);
  switch (kind) {
    case 'order':
      return orderAddress({ channel: channel!, number: code });
    case 'batch':
      return `/why/batch/${runId}/${named}`;
    case 'customer':
      return `/customers/${customerId}`;
    case 'purchase-order':
      return `/purchase-orders/${named}`;
    case 'complaint':
      return `/complaints/${named}`;
    case 'supplier':
      return `/suppliers#${named}`;
    case 'vessel':
      return `/start?vessel=${named}#vessels`;
    default:
      return `/shelf/${kind}s/${named}`;
  }
}

function FoundView({ q, found }: { q: string | undefined; found: readonly Found[] }): JSX.Element {
  return (
    <Page title="Find" at={null} find={q}>
      <h1 safe>{q === undefined ? 'Find' : `Find ${q}`}</h1>
      {found.length === 0 ? (
        <div class="note none">
          <p>
            <strong>{q === undefined ? 'Write a code in the box above.' : 'Nothing is called so.'}</strong>
          </p>
          <p>
            The code of an order, a lot, a batch, an item, a purchase order, a supplier, a vessel or a complaint leads
            to its page, and so does a customer's whole name; a part of it leads to what fits.
          </p>
        </div>
      ) : (
        <FoundTable found={found} />
      )}
    </Page>
  );
}

function FoundTable({ found }: { found: readonly Found[] }): JSX.Element {
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>Code</th>
          <th>What it is</th>
          <th>Name</th>
        </tr>
      </thead>
      <tbody>
        {found.map((row) => (
          <tr>
            <th scope="row">
              <a href={addressOf(row)} safe>
                {row.code}
              </a>
            </th>
            <td data-label="What it is" safe>
              {row.channel === null ? KINDS[row.kind] : `${KINDS[row.kind]} of ${row.channel}`}
            </td>
            <td data-label="Name" safe>
              {row.name}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
