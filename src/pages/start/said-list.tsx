import type { PropsWithChildren } from '@kitajs/html';
import { FormKey } from '../../ui/form-key.js';

/** One of a list of things said, with what can be done about it; its form names it by `id`. */
export function SaidRow({ id, gone, children }: PropsWithChildren<{ id: number; gone: string }>): JSX.Element {
  return (
    <li>
      <form class="row" method="post" action={gone}>
        <FormKey />
        <input type="hidden" name="id" value={String(id)} />
        {children}
      </form>
    </li>
  );
}

/** Where to go from such a list: to what it belongs to, and to the week. */
export function Onward({ to, words }: { to: string; words: string }): JSX.Element {
  return (
    <p class="row no-print">
      <a class="button" href={to} safe>
        {words}
      </a>
      <a class="button" href="/week">
        To the week
      </a>
    </p>
  );
}
