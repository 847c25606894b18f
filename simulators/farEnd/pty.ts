import { closeSync, constants, openSync, writeSync } from 'node:fs';
import { ReadStream } from 'node:tty';
import koffi from 'koffi';

/** The far end of a serial line: what the fake device has of it. */
export interface FarEndOfLine {
  /** The device that a driver opens, like `/dev/pts/7`. */
  readonly path: string;
  /** Bytes that the driver has sent: any number of them, cut anywhere. One listener; a new one takes the old one's place. */
  onBytes(listener: (bytes: Uint8Array) => void): void;
  /** Sends at once. As on a serial line without handshake, what the other end does not fetch in time (some kB) is lost. */
  write(bytes: Uint8Array): void;
  /** Hangs up, as when the plug is pulled: the path is gone. More than once does no harm. */
  close(): void;
}

/** More than any C library's `struct termios` (60 bytes in glibc on Linux). */
const TERMIOS_BYTES = 256;
const NAME_BYTES = 128;
/** TCSANOW of POSIX's termios.h, as Linux numbers it. */
const NOW = 0;

interface Libc {
  readonly posixOpenpt: (flags: number) => number;
  readonly grantpt: (fd: number) => number;
  readonly unlockpt: (fd: number) => number;
  readonly ptsnameR: (fd: number, name: Buffer, bytes: number) => number;
  readonly tcgetattr: (fd: number, termios: Buffer) => number;
  readonly cfmakeraw: (termios: Buffer) => void;
  readonly tcsetattr: (fd: number, when: number, termios: Buffer) => number;
}

let libc: Libc | undefined;

/** The calls of POSIX and glibc that make a pseudo-terminal; see pty(7) and termios(3). */
function loadLibc(): Libc {
  const library = koffi.load('libc.so.6');
  return {
    posixOpenpt: library.func('int posix_openpt(int flags)') as Libc['posixOpenpt'],
    grantpt: library.func('int grantpt(int fd)') as Libc['grantpt'],
    unlockpt: library.func('int unlockpt(int fd)') as Libc['unlockpt'],
    ptsnameR: library.func('int ptsname_r(int fd, void *name, size_t bytes)') as Libc['ptsnameR'],
    tcgetattr: library.func('int tcgetattr(int fd, void *termios)') as Libc['tcgetattr'],
    cfmakeraw: library.func('void cfmakeraw(void *termios)') as Libc['cfmakeraw'],
    tcsetattr: library.func('int tcsetattr(int fd, int when, void *termios)') as Libc['tcsetattr'],
  };
}

function must(result: number, call: string): number {
  if (result < 0) throw new Error(`${call} failed with ${koffi.errno()}`);
  return result;
}

function nameOf(master: number, c: Libc): string {
  const name = Buffer.alloc(NAME_BYTES);
  must(-c.ptsnameR(master, name, NAME_BYTES), 'ptsname_r');
  return name.toString('utf8', 0, name.indexOf(0));
}

/** No echo, no line editing, no changed bytes: a serial line. */
function makeRaw(slave: number, c: Libc): void {
  const termios = Buffer.alloc(TERMIOS_BYTES);
  must(c.tcgetattr(slave, termios), 'tcgetattr');
  c.cfmakeraw(termios);
  must(c.tcsetattr(slave, NOW, termios), 'tcsetattr');
}

/** A full line answers EAGAIN: the rest is lost, as it would be on a wire. */
function sendWhatFits(master: number, bytes: Uint8Array): void {
  let sent = 0;
  try {
    while (sent < bytes.length) sent += writeSync(master, bytes, sent);
  } catch (error) {
    if (!(error instanceof Error && 'code' in error && error.code === 'EAGAIN')) throw error;
  }
}

/**
 * Opens a pseudo-terminal: a serial line whose other end is this process. It is watched by the event loop, and takes no thread of the pool.
 * The near end is held open here too, so that a driver may close and open it again without the line being hung up.
 */
export function openPty(): FarEndOfLine {
  libc ??= loadLibc();
  const master = must(libc.posixOpenpt(constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK), 'posix_openpt');
  must(libc.grantpt(master), 'grantpt');
  must(libc.unlockpt(master), 'unlockpt');
  const path = nameOf(master, libc);
  const slave = openSync(path, constants.O_RDWR | constants.O_NOCTTY);
  makeRaw(slave, libc);
  const stream = new ReadStream(master);
  let listener: (bytes: Uint8Array) => void = () => undefined;
  let isOpen = true;
  // The end of the line shows as an error (EIO), a matter of course here.
  stream.on('error', () => undefined);
  stream.on('data', (bytes: Buffer) => listener(bytes));
  return {
    path,
    onBytes(next) {
      listener = next;
    },
    write(bytes) {
      if (isOpen) sendWhatFits(master, bytes);
    },
    close() {
      if (!isOpen) return;
      isOpen = false;
      stream.destroy();
      closeSync(slave);
    },
  };
}
