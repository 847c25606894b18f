import type { DriverError } from '../interfaces/index.ts';

/** What a wire tells its owner. */
export interface WireListener {
  /** Bytes as they arrive: any number of them, cut anywhere. */
  received(bytes: Uint8Array): void;
  /** Once, when the line is gone (unplugged, closed by the other end) and not closed by its owner. Nothing is received afterwards. */
  lost(error: DriverError): void;
}

/** An open line to a device: bytes out, bytes in. Serial ports and TCP connections look the same from here. */
export interface Wire {
  /** What people call it: the port's stable name with its baud rate, or host and port. */
  readonly name: string;
  readonly isOpen: boolean;
  /**
   * Resolves when the bytes are on their way (drained into the operating system). Rejects with `disconnected`, or with `timeout` when the
   * line does not take them: never hangs.
   */
  write(bytes: Uint8Array): Promise<void>;
  /** Resolves when the line is free for others; more than once does no harm. */
  close(): Promise<void>;
}

/**
 * Opens the line, finding it anew by its stable name each time. Bytes that were waiting before are thrown away.
 * Rejects with `noSuchLine`, `lineBusy`, `noAccess` or `timeout`.
 */
export type OpenWire = (listener: WireListener) => Promise<Wire>;
