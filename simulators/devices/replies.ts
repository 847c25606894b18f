import { DriverError, type Clock } from '../../drivers/interfaces/index.ts';
import type { DeviceName, Faults } from './faults.ts';

/** How long a driver waits for an answer. */
const PATIENCE_MS = 2000;

type Method = (...args: readonly unknown[]) => Promise<unknown>;

/** The arguments without the signal that whoever asks would stop the call by. */
function unheeding(args: readonly unknown[]): readonly unknown[] {
  return args.map((arg) => {
    if (arg instanceof AbortSignal) return undefined;
    return typeof arg === 'object' && arg !== null && 'signal' in arg ? { ...arg, signal: undefined } : arg;
  });
}

/** What the line makes of an answer: it comes as it is, late, or never. */
async function answered(work: Promise<unknown>, device: DeviceName, clock: Clock, faults: Faults): Promise<unknown> {
  const isLost = faults.strikes(`loseReply:${device}`);
  const lateMs = faults.strikes(`late:${device}`) ? faults.amount(`late:${device}`) : 0;
  const outcome = await work.then((value) => ({ value }), (error: unknown) => ({ error }));
  await clock.sleep(isLost ? PATIENCE_MS : lateMs);
  if (isLost) throw new DriverError('timeout', { device, waitedMs: PATIENCE_MS });
  if ('error' in outcome) throw outcome.error;
  return outcome.value;
}

/**
 * A device at the far end of a line that may lose its answers, delay them or leave the caller waiting for ever (the faults `loseReply`,
 * `late` and `hang`). In all three the device does what it was told. Closing is spared, so that whoever tests can end.
 */
export function overALine<T extends object>(device: T, name: DeviceName, clock: Clock, faults: Faults): T {
  return new Proxy(device, {
    get(target, key) {
      const member: unknown = Reflect.get(target, key, target);
      if (typeof member !== 'function') return member;
      const call: Method = (...args) => Reflect.apply(member, target, args) as Promise<unknown>;
      if (key === 'close') return call;
      return (...args: readonly unknown[]): Promise<unknown> => {
        if (faults.strikes(`hang:${name}`)) {
          call(...unheeding(args)).catch(() => undefined);
          return new Promise(() => undefined);
        }
        const isWell = !faults.isOn(`loseReply:${name}`) && !faults.isOn(`late:${name}`);
        return isWell ? call(...args) : answered(call(...args), name, clock, faults);
      };
    },
  });
}
