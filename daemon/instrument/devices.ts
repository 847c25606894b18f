import type { Instrument } from '../../drivers/interfaces/index.ts';

export type Devices = Omit<Instrument, 'clock'>;

/** What is real of an instrument, and what ends it. */
export interface RealDevices {
  readonly devices: Partial<Devices>;
  close(): Promise<void>;
}
