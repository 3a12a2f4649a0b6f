import { Get, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { idParam, lineOfText } from '../../platform/schema.js';
import { ContactsService } from '../../trace/contacts.service.js';
import { erasureAct } from '../../trace/erasure.schema.js';
import { ErasureService } from '../../trace/erasure.service.js';
import { blankIsNone, bodyOf, type Fault, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { Filled, PageController } from '../../ui/page-controller.js';
import { CustomerList } from './customer-list.js';
import { CustomerView } from './customer-view.js';

const listQuery = z.strictObject({
  search: blankIsNone(lineOfText(200)),
  after: z.coerce.number().int().min(0).max(Number.MAX_SAFE_INTEGER).optional(),
});
const customerPath = z.strictObject({ id: idParam });
const saidQuery = z.strictObject({ said: z.enum(['erased']).optional() });
const SHOWN_MAX = 100;

/** Customers, how they are reached, and how one is forgotten who asks for it. */
@PageController('customers')
export class CustomersPage {
  constructor(
    private readonly contacts: ContactsService,
    private readonly erasures: ErasureService,
  ) {}

  @Get()
  async list(@Query({ schema: listQuery }) query: z.infer<typeof listQuery>) {
    const { customers, next } = await this.contacts.list({ ...query, limit: SHOWN_MAX });
    return <CustomerList customers={customers} next={next} search={query.search} />;
  }

  @Get(':id')
  show(
    @Param({ schema: customerPath }) { id }: z.infer<typeof customerPath>,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return this.view(id, { isErasedNow: said === 'erased' });
  }

  @Post(':id/erase')
  async erase(@Filled(customerPath) { who, path: { id }, sent, reply }: Filled<typeof customerPath>) {
    try {
      await this.erasures.erase(
        who,
        id,
        bodyOf(erasureAct, { seen: sent['seen'] ?? '', why: written(sent, 'why') ?? '' }),
      );
      return goTo(reply, `/customers/${id}`, { said: 'erased' });
    } catch (error) {
      return this.view(id, { refused: { sent, fault: faultOf(error, reply) } });
    }
  }

  private async view(id: number, props: { isErasedNow?: boolean; refused?: { sent: Sent; fault: Fault } }) {
    return <CustomerView preview={await this.erasures.preview(id)} {...props} />;
  }
}
