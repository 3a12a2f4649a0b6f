import type { ImportReport } from '../../orders/import.schema.js';
import type { OrderFile } from '../../orders/order-files.service.js';
import type { Fault, Sent } from '../../ui/form.js';
import { count } from '../../ui/words.js';
import { CodesList } from '../../ui/codes-list.js';

const CODES_SHOWN = 50;

/** What the file calls items that nobody knows here, to be said on the spot. */
export function UnknownCodes(props: {
  file: OrderFile;
  report: ImportReport;
  sold: readonly { code: string; name: string }[];
  sent: Sent;
  fault: Fault | undefined;
}): JSX.Element {
  const { file, report, sold, sent, fault } = props;
  const shown = report.unknownCodes.slice(0, CODES_SHOWN);
  const rest = report.unknownCodeCount - shown.length;
  return (
    <section>
      <h2>Codes nobody knows here</h2>
      <p>
        Say what each stands for: an item, and how many of it are in one. A pack of three is 3. If it is a new product,{' '}
        <a href="/start#items">add it first</a>.
      </p>
      <form method="post" action={`/order-files/${file.id}/codes`}>
        <table class="stack entry">
          <thead>
            <tr>
              <th>The shop writes</th>
              <th class="num">Rows</th>
              <th>Stands for</th>
              <th>How many in one</th>
            </tr>
          </thead>
          <tbody>
            {shown.map((unknown, at) => (
              <UnknownCode at={at} unknown={unknown} sent={sent} fault={fault} />
            ))}
          </tbody>
        </table>
        <CodesList id="sold" items={sold} kinds={['product']} />
        {rest > 0 && <p class="hint" safe>{`And ${count(rest, 'more code')}, shown once these are done.`}</p>}
        <button type="submit">Keep this and look again</button>
      </form>
    </section>
  );
}

function UnknownCode(props: {
  at: number;
  unknown: ImportReport['unknownCodes'][number];
  sent: Sent;
  fault: Fault | undefined;
}): JSX.Element {
  const { at, unknown, sent, fault } = props;
  // what was typed belongs to the code it was typed for, wherever that stands now
  const was = sent[`codes/${at}/code`] === unknown.code ? sent : {};
  const itemFault = fault?.fields[`codes/${at}/item`];
  const unitsFault = fault?.fields[`codes/${at}/units`];
  return (
    <tr>
      <th scope="row">
        <span safe>{unknown.code}</span>
        <div class="hint" safe>
          {`${unknown.channel}, first in line ${unknown.firstLine}`}
        </div>
        <input type="hidden" name={`codes/${at}/code`} value={unknown.code} />
        <input type="hidden" name={`codes/${at}/channel`} value={unknown.channel} />
      </th>
      <td class="num" data-label="Rows">
        {unknown.lines}
      </td>
      <td data-label="Stands for">
        <input
          type="text"
          name={`codes/${at}/item`}
          value={was[`codes/${at}/item`] ?? ''}
          list="sold"
          maxlength="40"
          autocomplete="off"
          aria-label={`Item that ${unknown.code} stands for`}
          aria-invalid={itemFault ? 'true' : undefined}
          aria-describedby={itemFault ? `code-${at}-item-fault` : undefined}
        />
        {!!itemFault && (
          <div class="fault" id={`code-${at}-item-fault`} safe>
            {itemFault}
          </div>
        )}
      </td>
      <td data-label="How many in one">
        <input
          type="text"
          name={`codes/${at}/units`}
          value={was[`codes/${at}/units`] ?? '1'}
          inputmode="numeric"
          maxlength="6"
          size="4"
          aria-label={`How many in one ${unknown.code}`}
          aria-invalid={unitsFault ? 'true' : undefined}
          aria-describedby={unitsFault ? `code-${at}-units-fault` : undefined}
        />
        {!!unitsFault && (
          <div class="fault" id={`code-${at}-units-fault`} safe>
            {unitsFault}
          </div>
        )}
      </td>
    </tr>
  );
}
