/** The lamp of the reflected-light illuminator; intensity is a fraction of its full light, 0 is off. */
export interface Lamp {
  intensity(): Promise<number>;
  /** Rejects with `lampLimit`, `timeout`, `disconnected`. */
  setIntensity(fraction: number): Promise<void>;
  close(): Promise<void>;
}
