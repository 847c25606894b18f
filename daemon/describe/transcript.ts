import { hexOf, isReadable, visible, type HeardAs, type Spoken } from '../../drivers/described/index.ts';

const UNDERSTOOD: Readonly<Record<HeardAs, string>> = {
  answer: 'understood',
  error: 'the device refuses',
  unasked: 'nobody asked for it',
  echo: 'echo',
  stray: 'NOT understood',
};

/** A text as it was on the line: control characters by name, with its bytes in hex where people could not read it or it means nothing. */
function shown(text: string, withHex: boolean): string {
  return withHex || !isReadable(text) ? `${visible(text)}   (${hexOf(text)})` : visible(text);
}

/** One thing that was said, as a line of the transcript. */
export function spokenText(spoken: Spoken): string {
  switch (spoken.kind) {
    case 'opened':
      return `    opened ${spoken.line}`;
    case 'sent':
      return `    → ${visible(spoken.text + spoken.terminator)}`;
    case 'heard':
      return `    ← ${shown(spoken.text, spoken.as === 'stray').padEnd(36)}  ${UNDERSTOOD[spoken.as]}`;
    case 'unfinished':
      return `    ← ${shown(spoken.text, true)}   and no end of the line`;
    case 'silence':
      return `    … nothing for ${spoken.waitedMs} ms`;
  }
}

/**
 * Writes down what is said. The same question with the same answer over and over, as while something moves, becomes one entry with a count:
 * an entry is everything from one command to the next.
 */
export class Transcript {
  readonly #tell: (line: string) => void;
  #entry: string[] = [];
  #before = '';
  #times = 0;

  constructor(tell: (line: string) => void) {
    this.#tell = tell;
  }

  readonly hear = (spoken: Spoken): void => {
    if (spoken.kind === 'sent') this.#endEntry();
    this.#entry.push(spokenText(spoken));
  };

  /** Tells what has not been told yet. */
  flush(): void {
    this.#endEntry();
    this.#endRun();
    this.#before = '';
  }

  #endEntry(): void {
    const text = this.#entry.join('\n');
    this.#entry = [];
    if (text === '') return;
    if (text === this.#before) {
      this.#times++;
      return;
    }
    this.#endRun();
    this.#tell(text);
    this.#before = text;
  }

  #endRun(): void {
    if (this.#times > 0) this.#tell(`      the same ${this.#times === 1 ? 'once' : `${this.#times} times`} more`);
    this.#times = 0;
  }
}
