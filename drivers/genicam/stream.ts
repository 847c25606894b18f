import { DriverError, type Region } from '../interfaces/index.ts';
import type { Device } from './device.ts';
import type { Handle } from './fallible.ts';
import { formatOfCode } from './formats.ts';
import type { FrameMemory } from './frameMemory.ts';
import type { Library } from './library.ts';
import { copyPixels, type BufferLayout } from './pixels.ts';

/** Enough that one can be read while others are filled, few enough that old frames do not pile up. */
const BUFFERS = 4;
/** ArvGvStreamSocketBuffer: the kernel's buffer holds a whole picture, without which an ordinary user gets no full frame. */
const SOCKET_BUFFER_AUTO = 1;

/**
 * How long the rest of a frame is waited for after its last packet so far, in us. A busy computer pauses for longer than the library's
 * own 0.1 s now and then; the price is paid by frames that have really lost packets only.
 */
const FRAME_RETENTION_US = 300_000;

/** ArvBufferStatus, from -1. A buffer that is not `good` still shows pixels of other frames. */
const statusNames = ['unknown', 'good', 'cleared', 'incomplete in time', 'missing packets', 'packets out of order', 'wrong size', 'still filling', 'aborted'] as const;
type BufferStatus = (typeof statusNames)[number];

/** ArvBufferPayloadType: image, image with chunks (two kinds), multipart. */
const imagePayloads: ReadonlySet<number> = new Set([1, 4, 5, 10]);

export interface Picture {
  readonly pixels: Uint8Array | Uint16Array;
  readonly layout: BufferLayout;
}

/** One stream of one size and format; every change needs a new one. Frames of an older stream cannot come in on it. */
export class FrameStream {
  readonly #library: Library;
  readonly #isNetwork: boolean;
  readonly #stream: Handle;

  /** Opens the stream with its buffers, but does not start the camera. Throws LibraryError. */
  constructor(library: Library, { handle, isNetwork }: Device) {
    this.#library = library;
    this.#isNetwork = isNetwork;
    const payloadBytes = library.payloadBytes(handle);
    this.#stream = library.createStream(handle, null, null);
    if (isNetwork) {
      library.setProperty(this.#stream, 'socket-buffer', 'int', SOCKET_BUFFER_AUTO, 'void *', null);
      library.setProperty(this.#stream, 'frame-retention', 'int', FRAME_RETENTION_US, 'void *', null);
    }
    for (let n = 0; n < BUFFERS; n++) library.push(this.#stream, library.newBuffer(payloadBytes));
  }

  /** Gives every frame that has already arrived back, unread; how many there were. */
  drain(): number {
    let drained = 0;
    for (let buffer = this.#library.tryPop(this.#stream); buffer !== null; buffer = this.#library.tryPop(this.#stream)) {
      this.giveBack(buffer);
      drained++;
    }
    return drained;
  }

  /** The next buffer, or null when none has come in time. It must be given back, or the stream starves. */
  next(waitMs: number): Handle | null {
    return this.#library.popWithin(this.#stream, Math.max(1, Math.round(waitMs * 1000)));
  }

  giveBack(buffer: Handle): void {
    this.#library.push(this.#stream, buffer);
  }

  status(buffer: Handle): BufferStatus {
    return statusNames[this.#library.status(buffer) + 1] ?? 'unknown';
  }

  /** When the frame's first packet came in, ms since 1970 by this computer's clock. */
  arrivedAtMs(buffer: Handle): number {
    return Number(this.#library.arrivedNs(buffer)) / 1e6;
  }

  frameId(buffer: Handle): number {
    return Number(this.#library.frameId(buffer));
  }

  /** Network packets received, missed and sent again since the stream began; 0 for other buses. */
  packets(): { readonly received: number; readonly missing: number; readonly resent: number } {
    if (!this.#isNetwork) return { received: 0, missing: 0, resent: 0 };
    const count = (name: string) => Number(this.#library.statistic(this.#stream, name));
    return { received: count('n_received_packets'), missing: count('n_missing_packets'), resent: count('n_resent_packets') };
  }

  /**
   * Copies `region`, a part of what the camera was set to read (`hardware`), out of a good buffer. Size and format are the buffer's own:
   * throws `badFrame` where they are not what was set.
   */
  read(buffer: Handle, region: Region, hardware: Region, memory: FrameMemory): Picture {
    const layout = this.#layout(buffer);
    if (layout.widthPx !== hardware.widthPx || layout.heightPx !== hardware.heightPx) {
      throw new DriverError('badFrame', { widthPx: layout.widthPx, heightPx: layout.heightPx, wantedWidthPx: hardware.widthPx, wantedHeightPx: hardware.heightPx });
    }
    const bytes: [number | bigint] = [0];
    const data = this.#library.imageData(buffer, bytes);
    if (data === null) throw new DriverError('badFrame', { reason: 'no picture in the buffer' });
    const part = { ...region, colPx: region.colPx - hardware.colPx, rowPx: region.rowPx - hardware.rowPx };
    return { pixels: copyPixels(this.#library.view(data, Number(bytes[0])), layout, part, (size) => memory.take(size)), layout };
  }

  close(): void {
    this.#library.unref(this.#stream);
  }

  #layout(buffer: Handle): BufferLayout {
    const payload = this.#library.payloadType(buffer);
    if (!imagePayloads.has(payload)) throw new DriverError('badFrame', { reason: 'no plain picture', payloadType: payload });
    const code = this.#library.format(buffer);
    const format = formatOfCode(code);
    if (!format) throw new DriverError('badFrame', { reason: 'unknown pixel format', formatCode: `0x${code.toString(16)}` });
    const across: [number | bigint] = [0];
    const down: [number | bigint] = [0];
    this.#library.padding(buffer, across, down);
    return { widthPx: this.#library.width(buffer), heightPx: this.#library.height(buffer), rowPaddingBytes: Number(across[0]), format };
  }
}
