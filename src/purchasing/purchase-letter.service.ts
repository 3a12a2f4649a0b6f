import { Inject, Injectable } from '@nestjs/common';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { settingOf } from '../messages/notice-settings.service.js';
import { OutboxService } from '../messages/outbox.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import { lockOrder, orderByCode } from './purchase-order-rows.js';
import type { PurchaseOrderEmail, PurchaseOrderView } from './purchase-orders.schema.js';
import { PurchasePaperService } from './purchase-paper.service.js';
import { Supplier } from './purchasing.entity.js';
import { supplierNamed } from './suppliers.service.js';

/** A purchase order that goes to the supplier by email. */
@Injectable()
export class PurchaseLetterService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly papers: PurchasePaperService,
    private readonly outbox: OutboxService,
    @Inject(CONFIG) private readonly config: Config,
  ) {}

  /** Whether there is a server that takes email. */
  get canSend(): boolean {
    return this.config.smtp !== undefined;
  }

  /**
   * Sends a draft: in one transaction it is sent, and the email that tells of it lies in the outbox, with the order to read
   * and as a table. It leaves under one message id however often that is tried. An address that was not known of the
   * supplier is kept. Throws 404, 409 and 422 problems.
   */
  async send(who: string, code: string, body: PurchaseOrderEmail): Promise<PurchaseOrderView> {
    if (!this.canSend)
      throw conflict('no-email-server', 'No server for email is set: download the order and send it yourself.');
    const today = await this.clock.today();
    return this.database.act({ who }, async (tx) => {
      const { id, supplier: supplierCode } = await lockOrder(tx, code, 'draft');
      const supplier = await supplierNamed(tx, supplierCode);
      const to = body.to ?? supplier.email;
      if (to === '') throw invalid('/to', `No address of ${supplier.name} is known.`, 'no-address');
      if (supplier.email === '') await tx.update(Supplier, { id: supplier.id }, { email: to });
      await tx.query(`update purchase_order set status = 'sent', sent_on = $2, sent_by = 'email' where id = $1`, [
        id,
        today,
      ]);
      const { email_to: ours } = await settingOf(tx);
      const letter = await this.papers.letter(tx, code);
      const message = await this.outbox.write(tx, { ...letter, to: [to], ...(ours[0] ? { replyTo: ours[0] } : {}) });
      await tx.query('update purchase_order set message_id = (select id from message where uuid = $2) where id = $1', [
        id,
        message,
      ]);
      return orderByCode(tx, code);
    });
  }
}
