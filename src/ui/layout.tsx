import type { PropsWithChildren } from '@kitajs/html';
import { pageWorkshop } from './page-workshop.js';

/** Where one can go, in the order of an order's way through the workshop. */
const PLACES = [
  ['/week', 'Week'],
  ['/orders', 'Orders'],
  ['/bench', 'Bench'],
  ['/pick', 'Pack'],
  ['/shelf', 'Shelf'],
  ['/formulas', 'Formulas'],
  ['/reorder', 'Reorder'],
  ['/complaints', 'Complaints'],
  ['/reminders', 'Reminders'],
  ['/start', 'Start'],
] as const;

export interface PageProps {
  title: string;
  /** The place in the masthead this page belongs to. */
  at: (typeof PLACES)[number][0] | null;
  /** What was looked for, to stand in the search box again. */
  find?: string;
  /** Where there is no JavaScript to ask again, the browser does after so many seconds. */
  askAgainSeconds?: number;
}

/** The frame of every page. */
export function Page({ title, at, askAgainSeconds, find, children }: PropsWithChildren<PageProps>): JSX.Element {
  const workshop = pageWorkshop();
  const name = workshop?.name ?? 'Lotwright';
  return (
    <>
      {'<!doctype html>'}
      <html lang="en">
        <head>
          <meta charset="utf-8" />
          <meta name="viewport" content="width=device-width, initial-scale=1" />
          <title safe>{`${title} - ${name}`}</title>
          <link rel="stylesheet" href="/assets/style.css" />
          <link rel="icon" href="/assets/mark.svg" type="image/svg+xml" />
          <meta name="htmx-config" content='{"includeIndicatorCSS":false}' />
          {Boolean(askAgainSeconds) && (
            <noscript>
              <meta http-equiv="refresh" content={String(askAgainSeconds)} />
            </noscript>
          )}
          <script src="/assets/htmx.js" defer></script>
          <script src="/assets/busy.js" type="module"></script>
          <script src="/assets/keys.js" type="module"></script>
        </head>
        <body>
          <a class="skip" href="#content">
            To the content
          </a>
          <Masthead at={at} name={name} find={find} />
          <main id="content" tabindex="-1">
            {children}
          </main>
          <footer>
            {workshop?.isDemo && (
              <p>
                Everything here is invented. <a href="/start">Take the demonstration away</a> when you have seen enough.
              </p>
            )}
            Lotwright does arithmetic. Local codes, safety data and licensed practice decide what may be made and sold.
          </footer>
        </body>
      </html>
    </>
  );
}

function Masthead({ at, name, find }: Pick<PageProps, 'at' | 'find'> & { name: string }): JSX.Element {
  return (
    <header class="masthead">
      <a class="name" href="/week" safe>
        {name}
      </a>
      <nav aria-label="Places">
        <ul>
          {PLACES.map(([href, place]) => (
            <li>
              <a href={href} aria-current={href === at ? 'page' : undefined}>
                {place}
              </a>
            </li>
          ))}
        </ul>
      </nav>
      <form action="/find" method="get" role="search">
        <input
          type="search"
          name="q"
          value={find ?? ''}
          aria-label="Find anything by its code or name"
          aria-keyshortcuts="/"
          placeholder="Find a code ( / )"
          maxlength="120"
        />
      </form>
    </header>
  );
}
