/** The objective turret. Positions count from 0; a fixed objective is a turret of one. */
export interface Turret {
  readonly positions: number;
  position(): Promise<number>;
  /** Rejects with `limit` (no such position), `stalled`, `timeout`. */
  moveTo(position: number): Promise<void>;
  close(): Promise<void>;
}
