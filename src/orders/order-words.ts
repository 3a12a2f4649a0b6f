/** What the words of a status column say about an order. */
export type StatusMeaning = 'open' | 'unpaid' | 'hold' | 'cancelled' | 'fulfilled';
/** What the words of a payment column say. */
export type PaidMeaning = 'paid' | 'unpaid' | 'cancelled';
/** What the words of a fulfilment column say about a line. */
export type FulfilmentMeaning = 'all' | 'part' | 'none' | 'cancelled';

/*
 * Words in use in exports, lower case, with signs and blanks as one blank. Common practice, no source. A word that is
 * not here is refused and not guessed: it might be somebody's word for cancelled.
 */
const CANCELLED =
  'cancelled,canceled,cancellation,void,voided,refunded,fully refunded,returned,annulled,rejected,declined,failed,expired,storniert,annule,annulee';

const STATUS: Readonly<Record<StatusMeaning, string>> = {
  open:
    'open,new,confirmed,paid,processing,in progress,in process,accepted,approved,active,ready,' +
    'ready to ship,awaiting shipment,awaiting fulfilment,awaiting fulfillment,awaiting dispatch,unfulfilled,unshipped,' +
    'partially fulfilled,partially shipped,partial,partially refunded,backordered,offen,bestatigt,bezahlt',
  unpaid:
    'pending,unpaid,pending payment,payment pending,awaiting payment,authorized,authorised,partially paid,unbezahlt',
  hold: 'hold,on hold,waiting,draft,quote,under review,pending confirmation',
  cancelled: CANCELLED,
  fulfilled:
    'fulfilled,shipped,delivered,complete,completed,closed,dispatched,despatched,done,archived,versendet,versandt,erledigt',
};

const PAID: Readonly<Record<PaidMeaning, string>> = {
  paid: 'paid,yes,y,true,1,partially refunded,captured,settled,succeeded,success,complete,completed,free,ja,bezahlt,oui',
  unpaid:
    'unpaid,no,n,false,0,pending,authorized,authorised,partially paid,partial,awaiting payment,pending payment,' +
    'payment pending,open,due,overdue,invoiced,offen,nein,unbezahlt,non',
  cancelled: CANCELLED,
};

const FULFILMENT: Readonly<Record<FulfilmentMeaning, string>> = {
  all: 'fulfilled,shipped,delivered,complete,completed,dispatched,despatched,sent,yes,y,true,1,in transit,versendet,versandt,ja',
  part: 'partial,partially fulfilled,partially shipped,partially delivered,partly fulfilled,partly shipped',
  none:
    'unfulfilled,not fulfilled,unshipped,not shipped,open,pending,none,null,no,n,false,0,scheduled,processing,' +
    'in progress,on hold,ready,ready to ship,awaiting shipment,awaiting fulfilment,awaiting fulfillment,nein',
  cancelled: `${CANCELLED},restocked`,
};

const YES = 'yes,y,true,1,ja,oui';
const NO = 'no,n,false,0,none,null,nein,non';
const IS_CANCELLED = { yes: `${YES},${CANCELLED}`, no: NO };
const IS_URGENT = { yes: `${YES},x,urgent,rush,dringend,eilig`, no: `${NO},normal,standard` };

function meanings<M extends string>(words: Readonly<Record<M, string>>): ReadonlyMap<string, M> {
  const entries = Object.entries<string>(words) as [M, string][];
  return new Map(entries.flatMap(([meaning, list]) => list.split(',').map((word) => [word, meaning] as const)));
}

const STATUS_WORDS = meanings(STATUS);
const PAID_WORDS = meanings(PAID);
const FULFILMENT_WORDS = meanings(FULFILMENT);
const CANCELLED_WORDS = meanings(IS_CANCELLED);
const URGENT_WORDS = meanings(IS_URGENT);

function plainWord(text: string): string {
  return text
    .normalize('NFKD')
    .toLowerCase()
    .replace(/\p{M}/gu, '')
    .replace(/[^\p{L}\p{N}]+/gu, ' ')
    .trim();
}

/** Undefined when the word is not known; so too below. */
export const statusMeaning = (text: string): StatusMeaning | undefined => STATUS_WORDS.get(plainWord(text));
export const paidMeaning = (text: string): PaidMeaning | undefined => PAID_WORDS.get(plainWord(text));
export const fulfilmentMeaning = (text: string): FulfilmentMeaning | undefined => FULFILMENT_WORDS.get(plainWord(text));
export const isCancelled = (text: string): 'yes' | 'no' | undefined => CANCELLED_WORDS.get(plainWord(text));
export const isUrgent = (text: string): 'yes' | 'no' | undefined => URGENT_WORDS.get(plainWord(text));
