/** One line as it came in, one character a byte, without its terminator. */
export interface CutLine {
  readonly text: string;
  /** False for what grew longer than a line may be: its end was never seen. */
  readonly isWhole: boolean;
}

/** Cuts bytes, however they are grouped, into lines. What it holds is bounded: the rest of a line that is too long is thrown away. */
export class LineCutter {
  #held = '';
  #isOverlong = false;
  readonly #terminator: string;
  readonly #most: number;

  constructor(terminator: string, maxCharacters: number) {
    this.#terminator = terminator;
    this.#most = maxCharacters;
  }

  /** What has come since the last terminator. */
  get unfinished(): string {
    return this.#held;
  }

  push(bytes: Uint8Array): CutLine[] {
    this.#held += Buffer.from(bytes).toString('latin1');
    const lines: CutLine[] = [];
    for (let end = this.#held.indexOf(this.#terminator); end >= 0; end = this.#held.indexOf(this.#terminator)) {
      const text = this.#held.slice(0, end);
      this.#held = this.#held.slice(end + this.#terminator.length);
      if (!this.#isOverlong) lines.push(this.#cut(text));
      this.#isOverlong = false;
    }
    return [...lines, ...this.#shorten()];
  }

  clear(): void {
    this.#held = '';
    this.#isOverlong = false;
  }

  #cut(text: string): CutLine {
    return text.length > this.#most ? { text: text.slice(0, this.#most), isWhole: false } : { text, isWhole: true };
  }

  /** Told once of each line that is too long, while its end is still out. */
  #shorten(): CutLine[] {
    if (this.#held.length <= this.#most) return [];
    const told: CutLine[] = this.#isOverlong ? [] : [this.#cut(this.#held)];
    this.#isOverlong = true;
    // The last characters may be the beginning of the terminator.
    this.#held = this.#held.slice(-Math.max(0, this.#terminator.length - 1) || this.#held.length);
    return told;
  }
}
