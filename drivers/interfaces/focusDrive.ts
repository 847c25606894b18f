import type { MoveOptions } from './stage.ts';

/** The focus drive. zUm grows away from the chip: larger is safer. Every move resolves when the drive stands still. */
export interface FocusDrive {
  readonly zMinUm: number;
  readonly zMaxUm: number;
  position(): Promise<number>;
  /** Resolves with the z reported on arrival. Rejects with `limit`, `stalled`, `timeout`, `stopped`. */
  moveTo(zUm: number, options?: MoveOptions): Promise<number>;
  stop(): Promise<void>;
  close(): Promise<void>;
}
