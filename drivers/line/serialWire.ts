import { realpath, stat } from 'node:fs/promises';
import { SerialPort } from 'serialport';
import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import { SYSTEM_PORTS, type PortFolders } from './ports.ts';
import { noSuchPort, openRefusal } from './serialRefusal.ts';
import { within } from './within.ts';
import type { OpenWire, Wire, WireListener } from './wire.ts';

export interface SerialLine {
  /** Best the name by serial number, `/dev/serial/by-id/...`; a device's own name, like `/dev/ttyUSB0`, is taken too. */
  readonly port: string;
  readonly baudRate: number;
  /** A port that has not opened by then is given up. */
  readonly openWithinMs?: number;
  /** Bytes that the line has not taken by then count as not taken at all, and the line is closed. */
  readonly writeWithinMs?: number;
  readonly folders?: PortFolders;
}

const OPEN_WITHIN_MS = 3000;
const WRITE_WITHIN_MS = 2000;
const CLOSE_WITHIN_MS = 1000;
/** What was sent last (a stop, say) has this long to leave before the line is closed. */
const DRAIN_WITHIN_MS = 250;
/** The library can miss that a port has gone while nothing is sent, and would then read in circles: so the port's file is looked at. */
const LOOK_EVERY_MS = 250;

type Call = (done: (error: Error | null | undefined) => void) => void;

/** A call of the library as a promise. */
function called(call: Call): Promise<void> {
  return new Promise((resolve, reject) => {
    call((error) => (error ? reject(error) : resolve()));
  });
}

class SerialWire implements Wire {
  readonly name: string;
  /** Closed by its owner, or told that it is lost: whichever came first. */
  #isOver = false;
  #reason = 'it was unplugged, or the other end closed it';
  readonly #port: SerialPort;
  readonly #listener: WireListener;
  readonly #clock: Clock;
  readonly #about: ErrorDetails;
  readonly #writeWithinMs: number;
  readonly #over = new AbortController();

  constructor(port: SerialPort, listener: WireListener, clock: Clock, about: ErrorDetails, line: SerialLine) {
    this.name = `${line.port} at ${line.baudRate} baud`;
    this.#port = port;
    this.#listener = listener;
    this.#clock = clock;
    this.#about = about;
    this.#writeWithinMs = line.writeWithinMs ?? WRITE_WITHIN_MS;
    // An unplugged port shows as 'close', or as 'error' on the next write and two times 'close'.
    port.on('close', () => this.#lose());
    port.on('error', (error) => {
      this.#reason = error.message;
      if (!port.isOpen) this.#lose();
    });
    port.on('data', (bytes: Uint8Array) => {
      if (!this.#isOver) listener.received(bytes);
    });
  }

  get isOpen(): boolean {
    return !this.#isOver && this.#port.isOpen;
  }

  /** Looks now and then whether the port that was opened is still there. */
  async watch(path: string, inode: number): Promise<void> {
    while (this.isOpen) {
      await this.#clock.sleep(LOOK_EVERY_MS, this.#over.signal).catch(() => undefined);
      if (!this.isOpen) return;
      const now = await stat(path).catch(() => undefined);
      if (now?.ino !== inode) this.#lose();
    }
  }

  async write(bytes: Uint8Array): Promise<void> {
    // A closed port may never call back.
    if (!this.isOpen) throw this.#gone();
    const taken = called((done) => this.#port.write(Buffer.from(bytes), done)).catch((error: unknown) => {
      this.#reason = error instanceof Error ? error.message : this.#reason;
      throw this.#gone();
    });
    const late = () => new DriverError('timeout', { ...this.#about, what: 'the line does not take what is sent', waitedMs: this.#writeWithinMs });
    try {
      await within(this.#clock, this.#writeWithinMs, taken, late);
    } catch (error) {
      this.#lose();
      throw error;
    }
  }

  async close(): Promise<void> {
    if (!this.#isOver && this.#port.isOpen) await this.#quietly(DRAIN_WITHIN_MS, (done) => this.#port.drain(done));
    this.#end();
    await this.#shut();
  }

  #gone(): DriverError {
    return new DriverError('disconnected', { ...this.#about, reason: this.#reason });
  }

  #end(): boolean {
    if (this.#isOver) return false;
    this.#isOver = true;
    this.#over.abort();
    return true;
  }

  #lose(): void {
    if (!this.#end()) return;
    void this.#shut();
    this.#listener.lost(this.#gone());
  }

  async #shut(): Promise<void> {
    // What the other end does not take would hold up the closing, for half a minute on some ports.
    if (this.#port.isOpen) await this.#quietly(DRAIN_WITHIN_MS, (done) => this.#port.flush(done));
    if (this.#port.isOpen) await this.#quietly(CLOSE_WITHIN_MS, (done) => this.#port.close(done));
  }

  async #quietly(ms: number, call: Call): Promise<void> {
    await within(this.#clock, ms, called(call), () => this.#gone()).catch(() => undefined);
  }
}

/**
 * Opens a serial port with 8 data bits, no parity, one stop bit. Its name is looked up anew at each opening, so that a device that comes back
 * under another number is found again. The port is locked against other programs. DTR is left as it is on closing (no "hang up on close"), so that a
 * board that resets when DTR rises does not do so at every start of this program. Errors carry `line` and `baudRate`.
 */
export function serialOpener(line: SerialLine, clock: Clock): OpenWire {
  const { port, baudRate, folders = SYSTEM_PORTS, openWithinMs = OPEN_WITHIN_MS } = line;
  const about = { line: port, baudRate };
  return async (listener) => {
    const path = await realpath(port).catch(() => undefined);
    const file = path === undefined ? undefined : await stat(path).catch(() => undefined);
    if (path === undefined || file === undefined) throw await noSuchPort(about, folders);
    if (!file.isCharacterDevice()) throw await noSuchPort(about, folders, 'it is no serial port');
    const serial = new SerialPort({ path, baudRate, autoOpen: false, lock: true, hupcl: false });
    const opened = called((done) => serial.open(done));
    try {
      await within(clock, openWithinMs, opened, () => new DriverError('timeout', { ...about, what: 'opening', waitedMs: openWithinMs }));
    } catch (error) {
      // It may still open when nobody waits any more.
      void opened.then(() => serial.close()).catch(() => undefined);
      throw error instanceof DriverError ? error : await openRefusal(error as Error, path, about, folders);
    }
    await within(clock, openWithinMs, called((done) => serial.flush(done)), () => new Error('flush')).catch(() => undefined);
    const wire = new SerialWire(serial, listener, clock, about, line);
    void wire.watch(path, file.ino);
    return wire;
  };
}
