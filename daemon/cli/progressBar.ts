import type { ProgressView } from '../server/messages.ts';
import { durationText } from './words.ts';

/** Where a command writes: the terminal in real life, a list in tests. */
export interface Output {
  readonly isTerminal: boolean;
  readonly columns: number;
  write(text: string): void;
}

const barWidth = 28;

/** One line that says how far the scan is: bar, tiles done, flakes flagged, time left. */
export function progressLine(progress: ProgressView): string {
  const ended = progress.tilesDone + progress.tilesSkipped;
  const filled = progress.tiles === 0 ? 0 : Math.round((barWidth * ended) / progress.tiles);
  const bar = '█'.repeat(filled) + '·'.repeat(barWidth - filled);
  const skipped = progress.tilesSkipped > 0 ? `, ${progress.tilesSkipped} skipped` : '';
  return `${bar}  ${ended}/${progress.tiles} tiles${skipped}  ${progress.flagged} flagged  ${durationText(progress.leftS)} left`;
}

/** Redraws one line on a terminal; on anything else writes a line for every tenth of the way, so that a log stays short. */
export class ProgressBar {
  private readonly output: Output;
  private lastTenth = -1;
  private drawn = false;

  constructor(output: Output) {
    this.output = output;
  }

  show(progress: ProgressView): void {
    const line = progressLine(progress);
    if (this.output.isTerminal) {
      this.output.write(`\r\u001b[2K${line.slice(0, this.output.columns - 1)}`);
      this.drawn = true;
      return;
    }
    const tenth = progress.tiles === 0 ? 0 : Math.floor((10 * (progress.tilesDone + progress.tilesSkipped)) / progress.tiles);
    if (tenth === this.lastTenth) return;
    this.lastTenth = tenth;
    this.output.write(`${line}\n`);
  }

  /** Leaves the bar behind, so that what follows starts on a line of its own. */
  end(): void {
    if (this.drawn) this.output.write('\n');
    this.drawn = false;
  }
}
