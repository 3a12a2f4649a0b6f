import type { ShelfLot } from '../../../planning/shelf.service.js';
import { STATUS_WORDS } from './shelf-words.js';

/** The state of a lot as its word, or that its day is past. */
export function LotMark(props: Pick<ShelfLot, 'status' | 'expiresOn'> & { today: string }): JSX.Element {
  const isPast = props.expiresOn !== null && props.expiresOn < props.today;
  if (isPast) return <span class="mark bad">past its day</span>;
  return (
    <span
      class={props.status === 'released' ? 'mark good' : props.status === 'rejected' ? 'mark bad' : 'mark care'}
      safe
    >
      {STATUS_WORDS[props.status]}
    </span>
  );
}
