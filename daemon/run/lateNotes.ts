import { hasCode } from '../errors/index.ts';

/** Notes that wait for room; with more of them than this the oldest are given up. */
const MOST_WAITING = 200;

/**
 * Writes events and changes of state into the records, in order. What a full disk refuses waits, with its own time, and is written before the
 * next note that goes through: a run that comes to itself again leaves no gap. The night never waits for it.
 */
export class LateNotes {
  private readonly refused: (error: unknown) => void;
  private readonly waiting: (() => void)[] = [];

  /** @param refused told of each time that something could not be written */
  constructor(refused: (error: unknown) => void) {
    this.refused = refused;
  }

  /** Writes what waits, then this. Never throws. */
  write(note: () => void): void {
    this.waiting.push(note);
    while (this.waiting.length > 0 && !this.isRefused(this.waiting[0])) this.waiting.shift();
    if (this.waiting.length > MOST_WAITING) this.waiting.shift();
  }

  /** Whether there was no room for it. What fails otherwise would fail again: it is told and done with. */
  private isRefused(note: (() => void) | undefined): boolean {
    try {
      note?.();
      return false;
    } catch (error) {
      this.refused(error);
      return hasCode(error, 'diskFull') || hasCode(error, 'writeFailed');
    }
  }
}
