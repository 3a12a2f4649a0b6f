import type { EntityManager } from 'typeorm';

/** A mail server's remark repeats the address it refused; of a letter that named somebody erased none is kept. */
export async function forgetRemarks(tx: EntityManager): Promise<void> {
  await tx.query(
    `update message set last_error = '(erased)'
     where last_error not in ('', '(erased)') and position('(erased)' in letter::text) > 0`,
  );
}
