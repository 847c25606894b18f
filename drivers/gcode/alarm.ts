import { DriverError, type ErrorDetails } from '../interfaces/index.ts';

/** Alarms of the open-source firmware grbl 1.1, from its documentation (from memory), in our words. 0: it stands in alarm and did not say in which. */
const MEANINGS: Readonly<Record<number, string>> = {
  0: 'it is locked until it is homed or unlocked',
  1: 'a limit switch was touched',
  2: 'a target lay beyond its soft limits',
  3: 'it was reset while it moved',
  6: 'it was reset while it homed',
  7: 'a door was opened while it homed',
  8: 'it did not come free of a limit switch',
  9: 'it found no limit switch',
};

export function alarmError(about: ErrorDetails, alarm: number): DriverError {
  const meaning = MEANINGS[alarm];
  return new DriverError('alarm', { ...about, alarm, ...(meaning === undefined ? {} : { meaning }) });
}
