import type { TileRecord } from '../records/types.ts';

/** So many frames one after the other without usable light mean that lamp or camera is at fault, not the chip. */
const framesInARow = 5;

/** Watches the light of the frames as they are recorded: a dead lamp must not turn the rest of a night into black tiles. */
export class LightWatch {
  private uselessInARow = 0;

  /** What is wrong with the light, once that is sure; undefined as long as it is not. */
  troubleAfter({ outcome, fault }: TileRecord): 'black' | 'saturated' | undefined {
    if (outcome !== 'done') return undefined;
    if (fault !== 'black' && fault !== 'saturated') {
      this.uselessInARow = 0;
      return undefined;
    }
    this.uselessInARow++;
    return this.uselessInARow >= framesInARow ? fault : undefined;
  }
}
