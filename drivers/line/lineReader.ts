/** What the bytes of a line turned out to be. */
export type LineHeard =
  | { readonly kind: 'text'; readonly text: string }
  /** It holds bytes that are no text, or it never ended: most often a wrong baud rate or a bad cable. */
  | { readonly kind: 'garbled'; readonly bytes: Uint8Array };

const LINE_FEED = 0x0a;
const CARRIAGE_RETURN = 0x0d;
const TAB = 0x09;
/** A line that is no text is shown to people; nobody reads more of it than this. */
const MOST_GARBLED_BYTES = 64;

function isText(bytes: readonly number[]): boolean {
  return bytes.every((byte) => (byte >= 0x20 && byte < 0x7f) || byte === TAB);
}

/** Bytes as people write them: `3f 0a`. */
export function hexOf(bytes: Iterable<number>): string {
  return [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join(' ');
}

/**
 * Cuts bytes into lines, wherever they were cut on their way. Lines end with a line feed, a carriage return before it is dropped, and empty lines
 * are left out. What it holds is bounded: a longer line is garbled, and the rest of it is thrown away.
 */
export class LineReader {
  #held: number[] = [];
  #isOverlong = false;
  readonly #mostBytes: number;

  constructor(mostBytes = 512) {
    this.#mostBytes = mostBytes;
  }

  push(bytes: Uint8Array): readonly LineHeard[] {
    const heard: LineHeard[] = [];
    for (const byte of bytes) {
      if (byte === LINE_FEED) heard.push(...this.#end());
      else if (!this.#isOverlong) heard.push(...this.#hold(byte));
    }
    return heard;
  }

  /** Forgets what has come of a line so far. */
  clear(): void {
    this.#held = [];
    this.#isOverlong = false;
  }

  #hold(byte: number): readonly LineHeard[] {
    this.#held.push(byte);
    if (this.#held.length <= this.#mostBytes) return [];
    this.#isOverlong = true;
    return [this.#garbled()];
  }

  #end(): readonly LineHeard[] {
    const { length } = this.#held;
    if (this.#isOverlong || length === 0) {
      this.clear();
      return [];
    }
    if (this.#held[length - 1] === CARRIAGE_RETURN) this.#held.pop();
    const line: LineHeard = isText(this.#held) ? { kind: 'text', text: String.fromCharCode(...this.#held) } : this.#garbled();
    this.clear();
    return line.kind === 'text' && line.text === '' ? [] : [line];
  }

  #garbled(): LineHeard {
    return { kind: 'garbled', bytes: Uint8Array.from(this.#held.slice(0, MOST_GARBLED_BYTES)) };
  }
}
