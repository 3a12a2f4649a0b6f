import { Get, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { ItemsService } from '../../catalog/items.service.js';
import { itemCode } from '../../platform/schema.js';
import { saidPut } from '../../reorder/said-use.schema.js';
import { SaidUseService } from '../../reorder/said-use.service.js';
import { ReorderService } from '../../reorder/reorder.service.js';
import { CODES_MAX } from '../../ui/codes-list.js';
import { bodyOf, type Fault, faultOf, goTo, type Sent, written, writtenAmount } from '../../ui/form.js';
import { Filled, PageController } from '../../ui/page-controller.js';
import { ExpectedUseView } from './expected-use-view.js';

const itemPath = z.strictObject({ code: itemCode });
const writtenQuery = z.strictObject({ said: z.literal('written').optional() });

/** How fast a bought item goes, and what is said of it until its own use says enough. */
@PageController('reorder/items')
export class ExpectedUsePage {
  constructor(
    private readonly reorder: ReorderService,
    private readonly said: SaidUseService,
    private readonly items: ItemsService,
  ) {}

  @Get(':code')
  show(
    @Param({ schema: itemPath }) { code }: z.infer<typeof itemPath>,
    @Query({ schema: writtenQuery }) { said }: z.infer<typeof writtenQuery>,
  ) {
    return this.view(code, { isWritten: said !== undefined });
  }

  @Post(':code')
  async say(@Filled(itemPath) { who, path: { code }, sent, reply }: Filled<typeof itemPath>) {
    try {
      const item = await this.items.get(code);
      if (sent['by'] === 'nothing') await this.said.takeBack(who, code);
      else await this.said.put(who, code, bodyOf(saidPut, saidIn(sent, item.measure === 'weighed')));
      return goTo(reply, `/reorder/items/${code}`, { said: 'written' });
    } catch (error) {
      return this.view(code, { sent, fault: faultOf(error, reply) });
    }
  }

  private async view(code: string, shown: { isWritten?: boolean; sent?: Sent; fault?: Fault }) {
    const outlook = await this.reorder.one(code);
    const item = await this.items.get(code);
    const said = await this.said.get(code);
    const { items: all } = await this.items.list({ kind: 'material', limit: CODES_MAX });
    const others = all.filter((other) => other.code !== code && other.measure === item.measure);
    return <ExpectedUseView {...{ item, outlook, said, others, ...shown }} />;
  }
}

/** What the form says, as the API takes it: only the fields of what was chosen. */
function saidIn(sent: Sent, isWeighed: boolean): unknown {
  const from = written(sent, 'from') ?? null;
  if (sent['by'] === 'like')
    return { by: 'like', like: written(sent, 'like') ?? '', percent: written(sent, 'percent') ?? '', from };
  const quantity = writtenAmount(written(sent, 'quantity'), isWeighed);
  return { by: sent['by'], quantity, per: sent['per'], from };
}
