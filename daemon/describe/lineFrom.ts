import type { Clock } from '../../drivers/interfaces/index.ts';
import { tcpOpener, type TcpLine } from '../../drivers/line/tcpWire.ts';
import type { OpenWire } from '../../drivers/line/wire.ts';
import { NightjarError } from '../errors/index.ts';

export type LineAddress = { readonly kind: 'serial'; readonly port: string; readonly baudRate: number } | ({ readonly kind: 'tcp' } & Pick<TcpLine, 'host' | 'tcpPort'>);

const WANTED = 'serial:PORT@BAUD, such as serial:/dev/serial/by-id/NAME@115200, or tcp:HOST:PORT, such as tcp:192.168.1.20:4400';

/** A line as people write it on the command line. Throws `badUsage`. */
export function lineFrom(text: string): LineAddress {
  const [, port = '', baud = ''] = /^serial:(.+)@(\d{2,7})$/.exec(text) ?? [];
  if (port !== '' && Number(baud) > 0) return { kind: 'serial', port, baudRate: Number(baud) };
  const [, host = '', number = ''] = /^tcp:(\[[0-9a-fA-F:]+\]|[^:\s]+):(\d{1,5})$/.exec(text) ?? [];
  const tcpPort = Number(number);
  if (host !== '' && tcpPort >= 1 && tcpPort <= 65_535) return { kind: 'tcp', host: host.replace(/^\[|\]$/g, ''), tcpPort };
  throw new NightjarError('badUsage', { reason: `--line ${text}: ${WANTED} is wanted` });
}

/** What opens this line. The library of serial ports is loaded only where it is needed. */
export function openerFor(address: LineAddress, clock: Clock): OpenWire {
  if (address.kind === 'tcp') return tcpOpener(address, clock);
  return async (listener) => {
    const { serialOpener } = await import('../../drivers/line/serialWire.ts');
    return serialOpener(address, clock)(listener);
  };
}
