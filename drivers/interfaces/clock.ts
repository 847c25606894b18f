/** Time as a device: real in the lab, virtual in rehearsals and tests. Nothing else in Nightjar may ask for the time or wait. */
export interface Clock {
  /** Milliseconds since 1970-01-01 UTC. */
  now(): number;
  /** What the computer's own clock says, which may be set at any moment: to be told, never to be reckoned with. Left out where there is none. */
  timeOfDay?(): number;
  /** Resolves after `ms`; rejects with the signal's reason when aborted. */
  sleep(ms: number, signal?: AbortSignal): Promise<void>;
  /**
   * Ties a real operation (worker, file, image codec) to this clock. The real clock just hands the promise back. A virtual clock
   * delivers the result exactly `modelledMs` of its own time after the call, and does not pass that moment before the operation
   * has really ended: so virtual time neither outruns the workers nor depends on how fast or how many they are.
   */
  track<T>(operation: Promise<T>, modelledMs: number): Promise<T>;
}
