import type { Clock } from '../../drivers/interfaces/index.ts';
import type { Pace } from './virtualClock.ts';

/** Waits shorter than this are left to the next jump: a timer's own coarseness would add up to a slower pace than asked. */
const SHORTEST_WAIT_MS = 2;

/**
 * A pace that lets virtual time run no faster than one virtual ms in `realMsPerVirtualMs` of the given (real) clock. Time that real
 * work has already taken counts; a lag is forgiven, not made up for.
 */
export function paceBy(realClock: Clock, realMsPerVirtualMs: number): Pace {
  let anchor: { readonly realMs: number; readonly virtualMs: number } | undefined;
  return async (fromMs, toMs, signal) => {
    const realMs = realClock.now();
    anchor ??= { realMs, virtualMs: fromMs };
    const waitMs = anchor.realMs + (toMs - anchor.virtualMs) * realMsPerVirtualMs - realMs;
    if (waitMs <= 0) anchor = { realMs, virtualMs: toMs };
    if (waitMs < SHORTEST_WAIT_MS) return;
    await realClock.sleep(waitMs, signal).catch((reason: unknown) => {
      if (!signal.aborted) throw reason;
    });
  };
}
