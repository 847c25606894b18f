import type { RunView, TileView } from '../../daemon/server/messages.ts';
import { createPictureStore } from '../pictures/pictureStore.ts';
import { drawTile, Mosaics } from './mosaic.ts';
import { isSeen, useStage } from './view.ts';
import type { MapFrame } from './view.ts';

/** Tiles that are drawn one by one at a time; with more in sight the mosaic is sharp enough. */
const MOST_SINGLE_TILES = 60;
const TILES_KEPT = 120;
/** The mosaic is good enough down to this many um per screen px, as a share of its own. */
const MOSAIC_GOOD_ABOVE = 0.75;

/** Draws the pictures: mosaics from afar, single tiles over them from near. */
export class TilePainter {
  private readonly mosaics: Mosaics;
  private readonly store = createPictureStore(TILES_KEPT);
  private run: RunView | null = null;
  private tiles: readonly (TileView | undefined)[] = [];
  private readonly changed: () => void;

  constructor(changed: () => void) {
    this.changed = changed;
    this.mosaics = new Mosaics(changed);
  }

  update(run: RunView | null, tiles: readonly (TileView | undefined)[]): void {
    this.run = run;
    this.tiles = tiles;
    this.mosaics.update(run, tiles);
  }

  /** True when the tile's picture is on the map. */
  shows(tile: TileView): boolean {
    return this.mosaics.has(tile);
  }

  paint(frame: MapFrame): void {
    const { context, resolution, pixelRatio } = frame;
    useStage(frame);
    let finest = Infinity;
    for (const { canvas, umPerPx, leftUm, topUm } of this.mosaics.all) {
      finest = Math.min(finest, umPerPx);
      context.save();
      context.transform(umPerPx, 0, 0, -umPerPx, leftUm, topUm);
      context.imageSmoothingQuality = 'low';
      context.drawImage(canvas, 0, 0);
      context.restore();
    }
    if (resolution / pixelRatio < finest * MOSAIC_GOOD_ABOVE) this.paintSingly(frame);
  }

  private paintSingly(frame: MapFrame): void {
    const { run } = this;
    if (!run) return;
    const radius = Math.hypot(run.fieldWidthUm, run.fieldHeightUm) / 2;
    const seen = this.tiles.filter((tile) => tile?.picture !== undefined && isSeen(frame, tile.centreUm, radius));
    if (seen.length > MOST_SINGLE_TILES) return;
    const pixelUm = run.fieldWidthUm / run.frameWidthPx;
    frame.context.imageSmoothingEnabled = frame.resolution / frame.pixelRatio > pixelUm / 4;
    for (const tile of seen) {
      if (!tile?.picture) continue;
      const picture = this.store.ready(tile.picture);
      if (picture) drawTile(frame.context, picture, tile, run);
      else this.store.get(tile.picture).then(this.changed, () => undefined);
    }
    frame.context.imageSmoothingEnabled = true;
  }
}
