import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { accountsById } from './account.service.js';
import { complaintByCode } from './complaints.js';
import { letterOf, lettersPdf, reportPdf } from './recall-pdf.js';
import type { Recipient } from './recall.schema.js';
import { recallListOf, recallRow, recallViewOf, scopeIds } from './recalls.js';
import { traceSettingsOf } from './settings.service.js';

/** What is printed of a recall. */
@Injectable()
export class PapersService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** Letters to all who got something, or only to those not written to yet. Throws a 404 problem. */
  async letters(code: string, isOnlyOpen: boolean): Promise<Buffer> {
    const of = await this.lettersOf(code);
    return lettersPdf(of.recall, isOnlyOpen ? of.recipients.filter(isToWrite) : of.recipients, of);
  }

  /**
   * The letter to each who is not written to yet and can be reached by email, ready for the workshop's own mail program: a
   * `mailto` address (RFC 6068) by order. At most `MAILS_MOST`. Throws a 404 problem.
   */
  async mails(code: string): Promise<Map<string, string>> {
    const of = await this.lettersOf(code);
    const mails = of.recipients.filter(isToWrite).flatMap((recipient) => {
      const [address] = EMAIL.exec(recipient.contact) ?? [];
      if (address === undefined) return [];
      const subject = encodeURIComponent(`${of.workshop}: recall ${code}`);
      const body = encodeURIComponent(letterOf(of.recall, recipient, of).replaceAll('\n', '\r\n'));
      return [[recipient.order, `mailto:${encodeURIComponent(address)}?subject=${subject}&body=${body}`] as const];
    });
    return new Map(mails.slice(0, MAILS_MOST));
  }

  private async lettersOf(code: string) {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const recall = await recallViewOf(tx, code);
      const { recipients } = await recallListOf(tx, await recallRow(tx, code));
      const { letter: template } = await traceSettingsOf(tx);
      const items = [...new Set(recipients.flatMap(({ parcels }) => parcels.map(({ item }) => item)))];
      const names = await namesOf(tx, items);
      return { recall, recipients, template, workshop: (await workshopOf(tx)).name, names, today };
    });
  }

  /** Throws a 404 problem. */
  async report(code: string): Promise<Buffer> {
    const today = await this.clock.today();
    const of = await this.database.read(async (tx) => {
      const recall = await recallViewOf(tx, code);
      const row = await recallRow(tx, code);
      const complaints = [];
      for (const complaint of recall.complaints) complaints.push(await complaintByCode(tx, today, complaint));
      return {
        recall,
        list: await recallListOf(tx, row),
        accounts: await accountsById(tx, await scopeIds(tx, row.id), row.openedOn),
        complaints,
        workshop: (await workshopOf(tx)).name,
      };
    });
    return reportPdf({ ...of, today });
  }
}

const MAILS_MOST = 200;
const EMAIL = /[^\s@,;:<>()"]+@[^\s@,;:<>()"]+\.[^\s@,;:<>()"]+/;
const isToWrite = ({ writtenOn }: Recipient) => writtenOn === null;

async function namesOf(tx: EntityManager, codes: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ code: string; name: string }[]>(
    'select code, name from item where code = any($1::text[])',
    [codes],
  );
  return new Map(rows.map(({ code, name }) => [code, name]));
}
