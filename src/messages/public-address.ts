import { lookup } from 'node:dns/promises';
import { BlockList, isIP } from 'node:net';

/**
 * What is no public unicast address: the IANA special-purpose address registries (RFC 6890 and its updates), with private
 * (RFC 1918, RFC 4193), loopback, link-local (RFC 3927, RFC 4291), carrier-grade NAT (RFC 6598), documentation,
 * benchmarking and multicast networks, and those that wrap an IPv4 address (RFC 6052, RFC 3056, RFC 4380; of RFC 2765,
 * section 2.1, which no registry lists, `::ffff:0:0:0/96`). 3fff::/20 is documentation (RFC 9637), 5f00::/16 the identifiers
 * of segment routing (RFC 9602).
 */
const NOT_PUBLIC: [string, number][] = [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.0.2.0', 24],
  ['192.88.99.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
  ['224.0.0.0', 4],
  ['240.0.0.0', 4],
  ['::', 96],
  ['::ffff:0:0:0', 96],
  ['64:ff9b::', 96],
  ['64:ff9b:1::', 48],
  ['100::', 64],
  ['2001::', 23],
  ['2001:db8::', 32],
  ['2002::', 16],
  ['3fff::', 20],
  ['5f00::', 16],
  ['fc00::', 7],
  ['fe80::', 10],
  ['fec0::', 10],
  ['ff00::', 8],
];

const familyOf = (address: string): 'ipv4' | 'ipv6' => (isIP(address) === 4 ? 'ipv4' : 'ipv6');

function listOf(networks: readonly [string, number][]): BlockList {
  const list = new BlockList();
  for (const [address, bits] of networks) list.addSubnet(address, bits, familyOf(address));
  return list;
}

const notPublic = listOf(NOT_PUBLIC);

/** The address within one that only wraps it: `::ffff:10.0.0.1` is 10.0.0.1, in whatever way it is written. */
function unwrapped(address: string): string {
  if (isIP(address) !== 6) return address;
  const written = new URL(`http://[${address.split('%')[0]}]`).hostname.slice(1, -1);
  const mapped = /^::ffff:([0-9a-f]{1,4}):([0-9a-f]{1,4})$/.exec(written);
  if (!mapped) return written;
  const [high, low] = [parseInt(mapped[1]!, 16), parseInt(mapped[2]!, 16)];
  return [high >> 8, high & 255, low >> 8, low & 255].join('.');
}

/** Whether anybody may be reached there, or the owner of this installation allowed it. `allowed`: addresses, or networks as address/bits. */
export function mayReach(address: string, allowed: readonly string[]): boolean {
  const plain = unwrapped(address);
  const family = familyOf(plain);
  if (!notPublic.check(plain, family)) return true;
  const networks = allowed.map((text): [string, number] => {
    const [base = '', bits] = text.split('/');
    return [base, bits === undefined ? (isIP(base) === 4 ? 32 : 128) : Number(bits)];
  });
  return listOf(networks).check(plain, family);
}

/** Of an address that may not be asked, whoever asks. */
export class UnreachableAddress extends Error {}

/**
 * The one address a host is connected at, looked up once, so that nothing is between what was judged and what is used.
 * Refused where any of its addresses may not be reached: a name that has both is a trick. Throws UnreachableAddress, and
 * what the look-up throws of a name that has none.
 */
export async function addressFor(
  host: string,
  allowed: readonly string[],
): Promise<{ address: string; family: 4 | 6 }> {
  const bare = host.replace(/^\[|\]$/g, '');
  const found = await lookup(bare, { all: true, verbatim: true });
  const refused = found.find(({ address }) => !mayReach(address, allowed));
  if (refused)
    throw new UnreachableAddress(`${bare} is at ${refused.address}, which is no public address and is not allowed.`);
  const [first] = found;
  if (!first) throw new Error(`${bare} has no address.`);
  return { address: first.address, family: first.family === 6 ? 6 : 4 };
}
