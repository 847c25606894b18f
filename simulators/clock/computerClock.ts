import type { Clock } from '../../drivers/interfaces/index.ts';
import type { Faults } from '../devices/faults.ts';

/**
 * Time as the computer has it that runs the night. Its clock may be set (the fault `jumpClock`): what it says leaps, but waiting goes on as
 * before, as timers do that count on their own; the devices keep the time that truly passes. Its own work may be slow or hang (`slowWork`,
 * `hangWork`): the results come later, or never, while time goes on.
 */
export function computerClock(trueClock: Clock, faults: Faults): Clock {
  return {
    now: () => trueClock.now() + faults.amount('jumpClock'),
    sleep: (ms, signal) => trueClock.sleep(ms, signal),
    track(operation, modelledMs) {
      if (faults.strikes('hangWork')) {
        operation.catch(() => undefined);
        return new Promise(() => undefined);
      }
      return trueClock.track(operation, modelledMs + (faults.strikes('slowWork') ? faults.amount('slowWork') : 0));
    },
  };
}
