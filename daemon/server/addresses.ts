/** An IPv4 address that came over an IPv6 socket, as people write it. */
export function plainAddress(address: string | undefined): string {
  return (address ?? '').replace(/^::ffff:(?=\d+\.)/i, '');
}

/** The four groups before the fifth: what one customer of a network is usually given whole (RFC 6177). */
function network(address: string): string {
  const [head = '', tail] = address.split('%', 1)[0]?.split('::') ?? [];
  const before = head === '' ? [] : head.split(':');
  const after = tail === undefined || tail === '' ? [] : tail.split(':');
  const zeros = tail === undefined ? [] : Array.from({ length: Math.max(0, 8 - before.length - after.length) }, () => '0');
  return `${[...before, ...zeros, ...after].slice(0, 4).join(':')}::/64`;
}

/** Who counts as one when rates are metered: an IPv4 address, or an IPv6 network, in which one machine has as many addresses as it likes. */
export function meteredAs(address: string | undefined): string {
  const plain = plainAddress(address);
  return plain.includes(':') ? network(plain) : plain;
}

/** True for an address that only this computer can have. */
export function isOwnComputer(address: string | undefined): boolean {
  const plain = plainAddress(address);
  return plain === '::1' || plain.startsWith('127.');
}
