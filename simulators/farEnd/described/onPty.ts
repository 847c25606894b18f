import { openPty } from '../pty.ts';
import type { FarEnd } from './asciiFarEnd.ts';

export interface ServedOnPty {
  /** The serial port that a driver opens. */
  readonly port: string;
  close(): void;
}

/** Puts a far end behind a pseudo-terminal, which looks like a serial port. Throws where the system has none. */
export function serveOnPty(farEnd: FarEnd): ServedOnPty {
  const pty = openPty();
  const ear = farEnd.connected({ send: (bytes) => pty.write(bytes), hangUp: () => pty.close() });
  pty.onBytes((bytes) => ear.received(bytes));
  return {
    port: pty.path,
    close() {
      ear.gone();
      pty.close();
    },
  };
}
