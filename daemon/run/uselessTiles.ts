import type { TileRecord } from '../records/types.ts';

/** So many tiles one after the other from which nothing can be read mean that lamp, camera or classifier is at fault, not the chip. */
const tilesInARow = 5;

/** Why a tile says nothing of its chip; undefined when it does, or when it was given up before a frame was taken. */
function uselessBecause({ fault, reason }: TileRecord): string | undefined {
  if (fault === 'black' || fault === 'saturated' || fault === 'noDetail') return fault;
  return reason === 'classifierFailed' ? reason : undefined;
}

/** Watches the tiles as they are recorded: a dead lamp must not turn the rest of a night into black tiles. */
export class UselessTiles {
  private inARow = 0;

  /** What is wrong, once that is sure; undefined as long as it is not. */
  troubleAfter(tile: TileRecord): string | undefined {
    const because = uselessBecause(tile);
    if (because !== undefined) this.inARow++;
    else if (tile.outcome === 'done') this.inARow = 0;
    return this.inARow >= tilesInARow ? because : undefined;
  }
}
