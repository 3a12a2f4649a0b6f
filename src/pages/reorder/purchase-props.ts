import type { PurchaseOrderView } from '../../purchasing/purchase-orders.schema.js';
import type { PackView } from '../../purchasing/purchasing.schema.js';
import type { Fault, Sent } from '../../ui/form.js';
import type { Freed } from '../shelf/elsewhere/freed.js';
import type { PurchaseForm } from './purchase-forms.js';
import { PURCHASE_SAID } from './purchase-words.js';

export interface PurchaseViewProps {
  order: PurchaseOrderView;
  /** What the supplier sells, to add to a draft. */
  packs: readonly PackView[];
  currency: string;
  /** Whether an order can be sent by email from here. */
  canEmail: boolean;
  today: string;
  said?: keyof typeof PURCHASE_SAID;
  freed?: readonly Freed[];
  refused?: { form: PurchaseForm; delivery: string | undefined; sent: Sent; fault: Fault };
}
