import { describe, expect, it } from 'vitest';
import { addressFor, mayReach } from '../../src/messages/public-address.js';

/*
 * The networks are those of the IANA special-purpose address registries: RFC 1918 (private), RFC 3927 and RFC 4291
 * (link-local), RFC 6598 (shared address space of carriers), RFC 4193 (unique local), RFC 5737 and RFC 3849
 * and RFC 9637 (documentation), RFC 6052 (IPv4 in IPv6), RFC 9602 (segment routing): IANA IPv4 and IPv6 Special-Purpose
 * Address Registries, iana.org/assignments/iana-ipv6-special-registry, from memory. `::ffff:0:0:0/96` is of RFC 2765,
 * section 2.1. Where a cloud tells a machine its secrets, 169.254.169.254, is from memory.
 */
describe('what a webhook may reach', () => {
  it.each([
    '127.0.0.1',
    '127.8.9.1',
    '0.0.0.0',
    '10.1.2.3',
    '172.16.0.1',
    '172.31.255.255',
    '192.168.0.1',
    '169.254.169.254',
    '100.64.0.1',
    '100.127.255.255',
    '192.0.2.1',
    '224.0.0.1',
    '255.255.255.255',
    '::1',
    '::',
    'fe80::1',
    'fc00::1',
    'fd12:3456::1',
    'ff02::1',
    '2001:db8::1',
    '::ffff:10.0.0.1',
    '::ffff:7f00:1',
    '0:0:0:0:0:ffff:c0a8:1',
    '64:ff9b::a00:1',
    '2002:a00:1::',
    '::127.0.0.1',
    '3fff::1',
    '3fff:fff:ffff::1',
    '5f00::1',
    '5f00:ffff::1',
    '::ffff:0:10.0.0.1',
    '::ffff:0:8.8.8.8',
  ])('is not %s', (address) => {
    expect(mayReach(address, [])).toBe(false);
  });

  it.each([
    '1.1.1.1',
    '172.15.255.255',
    '172.32.0.1',
    '100.63.255.255',
    '100.128.0.1',
    '2606:4700::1111',
    '3ffe:ffff::1',
    '4000::1',
    '5eff::1',
    '5f01::1',
    '::ffff:8.8.8.8',
  ])('is %s', (address) => {
    expect(mayReach(address, [])).toBe(true);
  });

  it('is what the owner allows, and nothing beside it', () => {
    const allowed = ['192.168.1.20', '10.0.0.0/8', 'fd00::/8'];
    expect(['192.168.1.20', '10.9.9.9', 'fd99::1', '::ffff:10.1.1.1'].map((at) => mayReach(at, allowed))).toEqual([
      true,
      true,
      true,
      true,
    ]);
    expect(['192.168.1.21', '172.16.0.1', '127.0.0.1', 'fc00::1'].map((at) => mayReach(at, allowed))).toEqual([
      false,
      false,
      false,
      false,
    ]);
  });

  it.each(['localhost', '127.0.0.1', '[::1]', '2130706433', '0x7f000001', '127.1'])(
    'is not this machine, however it is written: %s',
    async (host) => {
      const { hostname } = new URL(`http://${host}/`);
      await expect(addressFor(hostname, [])).rejects.toThrow('no public address');
    },
  );
});
