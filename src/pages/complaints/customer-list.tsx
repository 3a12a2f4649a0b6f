import type { CustomerView } from '../../trace/contacts.schema.js';
import { shortDay } from '../../ui/dates.js';
import { TextField } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';

export function CustomerList(props: {
  customers: readonly CustomerView[];
  /** The last customer shown, where there are more. */
  next: number | null;
  search: string | undefined;
}): JSX.Element {
  const { customers, next, search } = props;
  return (
    <Page title="Customers" at="/complaints">
      <h1>Customers</h1>
      <form method="get" action="/customers" class="filters no-print">
        <TextField form="filter" name="search" label="A part of the name" value={search} maxlength={200} />
        <button type="submit">Show</button>
      </form>
      {customers.length === 0 ? (
        <p>No customer is called so.</p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th>Customer</th>
              <th>How to reach them</th>
              <th class="num">Orders</th>
              <th>Last parcel</th>
            </tr>
          </thead>
          <tbody>
            {customers.map(({ id, name, contact, orders, lastShippedOn }) => (
              <tr>
                <th scope="row">
                  <a href={`/customers/${id}`} safe>
                    {name}
                  </a>
                </th>
                <td data-label="How to reach them" safe>
                  {contact || 'not known'}
                </td>
                <td class="num" data-label="Orders">
                  {orders}
                </td>
                <td data-label="Last parcel" safe>
                  {lastShippedOn === null ? 'none' : shortDay(lastShippedOn)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {next !== null && (
        <p class="no-print">
          <a
            class="button"
            href={`/customers?${new URLSearchParams({ ...(search !== undefined && { search }), after: String(next) }).toString()}`}
          >
            More
          </a>
        </p>
      )}
    </Page>
  );
}
