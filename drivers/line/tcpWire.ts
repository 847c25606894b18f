import { Socket } from 'node:net';
import { DriverError, type Clock } from '../interfaces/index.ts';
import { within } from './within.ts';
import type { OpenWire, Wire, WireListener } from './wire.ts';

export interface TcpLine {
  readonly host: string;
  readonly tcpPort: number;
  /** A connection that has not come about by then is given up. */
  readonly connectWithinMs?: number;
  /** Bytes that the other end has not taken by then count as not taken at all, and the connection is ended. */
  readonly writeWithinMs?: number;
}

const CONNECT_WITHIN_MS = 3000;
const WRITE_WITHIN_MS = 2000;
/** A device that was switched off without a farewell is found out by TCP's own probes, which begin after this silence. */
const KEEP_ALIVE_MS = 10_000;

/** The system's word for what went wrong: `ECONNREFUSED`. */
function reasonOf(error: Error): string {
  return 'code' in error && typeof error.code === 'string' ? error.code : error.message;
}

/** Node's errors of a connection attempt (names as in errno(3)) in the words of a line. */
function refusal(name: string, error: Error): DriverError {
  const reason = reasonOf(error);
  if (reason === 'ETIMEDOUT') return new DriverError('timeout', { line: name, reason }, { cause: error });
  if (reason === 'EACCES' || reason === 'EPERM') return new DriverError('noAccess', { line: name, reason }, { cause: error });
  const said = reason === 'ECONNREFUSED' ? 'nobody listens there' : reason;
  return new DriverError('noSuchLine', { line: name, reason: said }, { cause: error });
}

function connected(socket: Socket, { host, tcpPort }: TcpLine, name: string): Promise<void> {
  return new Promise((resolve, reject) => {
    socket.once('error', (error) => reject(refusal(name, error)));
    socket.once('connect', () => resolve());
    socket.connect({ host, port: tcpPort });
  });
}

class TcpWire implements Wire {
  readonly name: string;
  #isClosed = false;
  readonly #socket: Socket;
  readonly #clock: Clock;
  readonly #writeWithinMs: number;

  constructor(name: string, socket: Socket, listener: WireListener, clock: Clock, writeWithinMs: number) {
    this.name = name;
    this.#socket = socket;
    this.#clock = clock;
    this.#writeWithinMs = writeWithinMs;
    let reason = 'the other end closed it';
    socket.on('data', (bytes) => {
      if (!this.#isClosed) listener.received(bytes);
    });
    socket.on('error', (error) => {
      reason = reasonOf(error);
    });
    socket.once('end', () => socket.destroy());
    socket.once('close', () => {
      if (this.#isClosed) return;
      this.#isClosed = true;
      listener.lost(this.#gone(reason));
    });
  }

  get isOpen(): boolean {
    return !this.#isClosed && !this.#socket.destroyed;
  }

  async write(bytes: Uint8Array): Promise<void> {
    if (!this.isOpen) throw this.#gone('it is closed');
    const taken = new Promise<void>((resolve, reject) => {
      this.#socket.write(bytes, (error) => (error ? reject(this.#gone(reasonOf(error))) : resolve()));
    });
    const late = (): DriverError => {
      this.#socket.destroy();
      return new DriverError('timeout', { line: this.name, what: 'the line does not take what is sent', waitedMs: this.#writeWithinMs });
    };
    return within(this.#clock, this.#writeWithinMs, taken, late);
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    if (this.#socket.closed) return;
    const closed = new Promise<void>((resolve) => {
      this.#socket.once('close', () => resolve());
    });
    this.#socket.destroySoon();
    await within(this.#clock, this.#writeWithinMs, closed, () => this.#gone('it did not close')).catch(() => this.#socket.destroy());
  }

  #gone(reason: string): DriverError {
    return new DriverError('disconnected', { line: this.name, reason });
  }
}

/**
 * Opens TCP connections to a device or to a serial device server. Rejects with `noSuchLine` (no such host, nobody listens), `noAccess` or
 * `timeout`.
 */
export function tcpOpener(line: TcpLine, clock: Clock): OpenWire {
  const name = `${line.host}:${line.tcpPort}`;
  const connectWithinMs = line.connectWithinMs ?? CONNECT_WITHIN_MS;
  return async (listener) => {
    const socket = new Socket();
    try {
      const late = () => new DriverError('timeout', { line: name, what: 'no connection', waitedMs: connectWithinMs });
      await within(clock, connectWithinMs, connected(socket, line, name), late);
    } catch (error) {
      socket.on('error', () => undefined);
      socket.destroy();
      throw error;
    }
    socket.setNoDelay(true);
    socket.setKeepAlive(true, KEEP_ALIVE_MS);
    return new TcpWire(name, socket, listener, clock, line.writeWithinMs ?? WRITE_WITHIN_MS);
  };
}
