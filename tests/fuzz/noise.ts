import fc from 'fast-check';
import type { OpenWire, WireListener } from '../../drivers/line/wire.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';

/** One thing that a bad line does to what a device says. */
export interface Noise {
  readonly act: 'none' | 'cut' | 'double' | 'lose' | 'high' | 'set' | 'insert' | 'over' | 'hold' | 'hangUp';
  readonly at: number;
  readonly bytes: Uint8Array;
}

const piece = fc.oneof(
  fc.uint8Array({ maxLength: 12 }),
  fc.constantFrom('ok\r\n', 'error:99\r\n', 'ALARM:1\r\n', '<Idle|MPos:1.000,2.000,3.000>\r\n', '<Run|MPos:NaN,1e9,0>\r\n', "Grbl 1.1h ['$' for help]\r\n", '$100=0\r\n', '\r\n', '\n\n\n', '\u0000', '<', '[MSG:]\r\n', 'OK\r\n', 'E7\r\n', 'P 1 2\r\n', 'S A 1\r\n', '1,2,3\r', '\r', '*BOOT\r\n', '0,"No error"\r\n').map((text) => Buffer.from(text, 'latin1')),
  fc.constantFrom('x'.repeat(3000), '<'.repeat(600), '1'.repeat(5000), `${'9'.repeat(500)}\r\n`).map((text) => Buffer.from(text)),
);

const noise: fc.Arbitrary<Noise> = fc.record({
  act: fc.oneof({ weight: 6, arbitrary: fc.constant('none' as const) }, { weight: 5, arbitrary: fc.constantFrom<Noise['act']>('cut', 'double', 'lose', 'high', 'set', 'insert', 'over', 'hold', 'hangUp') }),
  at: fc.nat(60),
  bytes: piece,
});

/** What becomes of one thing said after the other; then the line is well. */
export const noises = fc.array(noise, { minLength: 1, maxLength: 40 });

function spoilt(said: Uint8Array, { act, at, bytes }: Noise): Uint8Array {
  const from = at % (said.length + 1);
  switch (act) {
    case 'cut':
      return said.slice(0, from);
    case 'double':
      return Buffer.concat([said, said]);
    case 'lose':
      return new Uint8Array();
    case 'high':
      return said.map((byte, n) => (n >= from ? byte | 0x80 : byte));
    case 'set':
      return said.map((byte, n) => (n === from ? (bytes[0] ?? 0) : byte));
    case 'insert':
      return Buffer.concat([said.subarray(0, from), bytes, said.subarray(from)]);
    case 'over':
      return bytes;
    case 'none':
    case 'hold':
    case 'hangUp':
      return said;
  }
}

/** A line on which the next things said are spoilt one by one; what is held comes in the midst of the next. */
export function noisyWire(openWire: OpenWire, all: readonly Noise[]): OpenWire {
  let next = 0;
  let held: Uint8Array = new Uint8Array();
  return (listener: WireListener) =>
    openWire({
      lost: (error) => listener.lost(error),
      received(bytes) {
        const each = all[next++] ?? { act: 'none', at: 0, bytes: new Uint8Array() };
        if (each.act === 'hangUp') {
          listener.lost(new DriverError('disconnected', { line: 'noisy' }));
          return;
        }
        const said = spoilt(bytes, each);
        if (each.act === 'hold') {
          held = said;
          return;
        }
        const middle = Math.floor(said.length / 2);
        const whole = Buffer.concat([said.subarray(0, middle), held, said.subarray(middle)]);
        held = new Uint8Array();
        if (whole.length > 0) listener.received(whole);
      },
    });
}
