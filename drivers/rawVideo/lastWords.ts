/** So much of what a command said last is shown: a line or three of a program that talks all the time. */
const LAST_CHARACTERS = 300;

/** Keeps the end of what a command writes to its standard error, and forgets the rest. */
export class LastWords {
  #text = '';

  hear(bytes: Uint8Array): void {
    // A character cut in two shows as a mark of its own: these are words for people, not data.
    this.#text = (this.#text + Buffer.from(bytes).toString('utf8')).slice(-2 * LAST_CHARACTERS);
  }

  /** In one line, as it can stand in a sentence; empty when nothing was said. */
  get text(): string {
    const line = this.#text.replace(/\s+/g, ' ').trim();
    return line.length > LAST_CHARACTERS ? `...${line.slice(-LAST_CHARACTERS)}` : line;
  }
}
