import type { DetailsByCode, EntriesFor } from './codes.ts';
import { calibrationEntries } from './calibrationEntries.ts';
import { driverEntries } from './driverEntries.ts';
import { inputEntries, recordsEntries } from './inputEntries.ts';
import { planEntries } from './planEntries.ts';
import { classifierEntries, runEntries } from './runEntries.ts';
import { serverEntries } from './serverEntries.ts';

/**
 * The one error table: every code that a person can meet, with its three-part sentence and the exit code of the command line.
 * Its type asks for each code of the drivers, the planner and the daemon: a new code without a sentence does not compile.
 */
export const errorTable: EntriesFor<DetailsByCode> = {
  ...driverEntries,
  ...planEntries,
  ...inputEntries,
  ...recordsEntries,
  ...runEntries,
  ...calibrationEntries,
  ...classifierEntries,
  ...serverEntries,
};
