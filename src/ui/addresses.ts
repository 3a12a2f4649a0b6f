/** Where an order's page is. */
export const orderAddress = ({ channel, number }: { channel: string; number: string }): string =>
  `/orders/${channel}/${encodeURIComponent(number)}`;

/** Where the order of a line is, of a line's key such as `shop/1001/CEDAR-100#1`; a number may hold a slash itself. */
export function lineAddress(key: string): string {
  const [first, last] = [key.indexOf('/'), key.lastIndexOf('/')];
  return orderAddress({ channel: key.slice(0, first), number: key.slice(first + 1, last) });
}

/** What stands in the way of a line that is late, of its key. */
export const whyLateAddress = (key: string): string => `/why/late/${encodeURIComponent(key)}`;

export const pickAddress = ({ channel, number }: { channel: string; number: string }): string =>
  `/pick/${channel}/${encodeURIComponent(number)}`;
