export type { GcodeAxis } from './axis.ts';
export { openGcodeController, type GcodeController } from './controller.ts';
export type { GcodeCounters } from './counters.ts';
export type { GcodeOptions, Remembered, RestMemory } from './options.ts';
export type { Reference } from './settings.ts';
