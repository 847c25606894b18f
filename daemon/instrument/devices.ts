import type { Instrument } from '../../drivers/interfaces/index.ts';

export type Devices = Omit<Instrument, 'clock'>;

/** What is real of an instrument, and what ends it. */
export interface RealDevices {
  readonly devices: Partial<Devices>;
  /** What the drivers have counted, by line or device, for the log. */
  counters(): Readonly<Record<string, object>>;
  close(): Promise<void>;
}
