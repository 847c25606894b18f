import { z } from 'zod';

// Bounds that no instrument comes near: beyond them a number is a slip of the pen, and sums of it say nothing any more.
const LONGEST_UM = 1e7;
const LARGEST = 1e9;
const SMALLEST = 0.001;
const LONGEST_MS = 600_000;

/** A place or a length on the stage: ten metres either way. */
export const um = (describe: string) => z.number().min(-LONGEST_UM).max(LONGEST_UM).describe(describe);

/** A size, speed or acceleration. */
export const positive = (describe: string) => z.number().min(SMALLEST).max(LARGEST).describe(describe);

/** A wait: ten minutes. */
export const waitMs = (describe: string) => z.number().min(0).max(LONGEST_MS).describe(describe);

/** An exposure, from a microsecond to ten minutes. */
export const exposureMs = (describe: string) => z.number().min(SMALLEST).max(LONGEST_MS).describe(describe);
