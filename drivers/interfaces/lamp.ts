/** The lamp of the reflected-light illuminator; intensity is a fraction of its full light, 0 is off. */
export interface Lamp {
  /** Nothing but a person can switch it: what it is set to is only believed, and it is never dark. */
  readonly isByHand?: true;
  intensity(): Promise<number>;
  /** Rejects with `lampLimit`, `timeout`, `disconnected`. */
  setIntensity(fraction: number): Promise<void>;
  close(): Promise<void>;
}
