/** How a line was understood. */
export type HeardAs = 'answer' | 'error' | 'unasked' | 'echo' | 'stray';

/** One thing that was said on a line, for whoever wants to watch. Texts are one character a byte, terminators left off. */
export type Spoken =
  | { readonly kind: 'opened'; readonly line: string }
  | { readonly kind: 'sent'; readonly text: string; readonly terminator: string }
  | { readonly kind: 'heard'; readonly text: string; readonly as: HeardAs }
  /** What had come when patience ended, without its terminator. */
  | { readonly kind: 'unfinished'; readonly text: string }
  | { readonly kind: 'silence'; readonly waitedMs: number };

export type Listen = (spoken: Spoken) => void;
