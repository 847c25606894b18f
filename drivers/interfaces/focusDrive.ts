import type { MoveOptions } from './stage.ts';

/** The focus drive. zUm grows away from the chip: larger is safer. Every move resolves when the drive stands still. */
export interface FocusDrive {
  readonly zMinUm: number;
  readonly zMaxUm: number;
  position(): Promise<number>;
  /** Resolves with the z reported on arrival. Rejects with `limit`, `stalled`, `timeout`, `stopped`. */
  moveTo(zUm: number, options?: MoveOptions): Promise<number>;
  /** Where it has a switch of its own at its upper end: goes up to it, and then knows where it is. */
  home?(signal?: AbortSignal): Promise<void>;
  /** For a drive without switches: a person says that it stands at its reference place now. Nothing moves. */
  takeReference?(): Promise<void>;
  stop(): Promise<void>;
  close(): Promise<void>;
}
