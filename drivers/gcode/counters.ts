/** What has happened on the line since it was first opened; for the log. */
export interface GcodeCounters {
  readonly linesSent: number;
  readonly statusAsked: number;
  /** Lines that could not be read. */
  readonly garbled: number;
  /** Questions that were never answered. */
  readonly silences: number;
  /** Commands sent once more. */
  readonly retries: number;
  /** Positions that could not be, and were asked for again. */
  readonly implausible: number;
  /** Start banners that came unasked. */
  readonly restarts: number;
  readonly alarms: number;
  readonly reconnects: number;
}

export type Tally = { -readonly [Name in keyof GcodeCounters]: number };

export function newTally(): Tally {
  return { linesSent: 0, statusAsked: 0, garbled: 0, silences: 0, retries: 0, implausible: 0, restarts: 0, alarms: 0, reconnects: 0 };
}
