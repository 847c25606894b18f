import type { Instrument } from '../../drivers/interfaces/index.ts';

export type Devices = Omit<Instrument, 'clock'>;

/** What is real of an instrument, and what ends it. */
export interface RealDevices {
  readonly devices: Partial<Devices>;
  /** What the drivers have counted, by line or device, for the log. */
  counters(): Readonly<Record<string, object>>;
  close(): Promise<void>;
}

/** Resolves when all have been closed; rejects with the first trouble, but not before the others are through. */
export async function allClosed(closings: readonly Promise<void>[]): Promise<void> {
  const failed = (await Promise.allSettled(closings)).find((outcome) => outcome.status === 'rejected');
  if (failed) throw failed.reason;
}
