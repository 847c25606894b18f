import type { RunView, TileView } from '../../daemon/server/messages.ts';
import { createQueue, fetchPicture } from '../pictures/pictureStore.ts';
import { frameCorners } from './view.ts';

/** No side of a mosaic is longer, px: three of them are some tens of megabytes. */
const MOST_SIDE_PX = 2048;
const AT_A_TIME = 4;

/** All tiles of one chip in one picture, along the stage's axes, coarse: what is drawn when much of the chip is seen. */
export interface Mosaic {
  readonly canvas: HTMLCanvasElement;
  readonly umPerPx: number;
  readonly leftUm: number;
  readonly topUm: number;
}

function newMosaic(run: RunView, tiles: readonly TileView[]): Mosaic {
  const corners = tiles.flatMap((tile) => frameCorners(tile.centreUm, run.cameraToStageUm, run.frameWidthPx, run.frameHeightPx));
  const xs = corners.map((c) => c.xUm);
  const ys = corners.map((c) => c.yUm);
  const leftUm = Math.min(...xs);
  const topUm = Math.max(...ys);
  const widthUm = Math.max(...xs) - leftUm;
  const heightUm = topUm - Math.min(...ys);
  const umPerPx = Math.max(run.fieldWidthUm / run.frameWidthPx, Math.max(widthUm, heightUm) / MOST_SIDE_PX);
  const canvas = document.createElement('canvas');
  canvas.width = Math.ceil(widthUm / umPerPx);
  canvas.height = Math.ceil(heightUm / umPerPx);
  return { canvas, umPerPx, leftUm, topUm };
}

/** Draws a tile's picture where it lies on the stage, whatever way the camera is turned or mirrored. */
export function drawTile(context: CanvasRenderingContext2D, picture: ImageBitmap, tile: TileView, run: RunView): void {
  const m = run.cameraToStageUm;
  const sx = run.frameWidthPx / picture.width;
  const sy = run.frameHeightPx / picture.height;
  context.save();
  context.transform(m[0] * sx, m[2] * sx, m[1] * sy, m[3] * sy, tile.centreUm.xUm, tile.centreUm.yUm);
  context.drawImage(picture, -picture.width / 2, -picture.height / 2);
  context.restore();
}

/** The mosaics of a night: each tile is fetched once, drawn into its chip's mosaic and let go. */
export class Mosaics {
  private run: RunView | null = null;
  private readonly byChip = new Map<string, Mosaic>();
  private readonly drawn = new Map<number, string>();
  private readonly wanted = new Map<number, string>();
  private queue = createQueue(AT_A_TIME);
  private readonly changed: () => void;

  /** `changed` is called when there is something new to see. */
  constructor(changed: () => void) {
    this.changed = changed;
  }

  get all(): Iterable<Mosaic> {
    return this.byChip.values();
  }

  /** True when the tile's present picture is in its mosaic. */
  has(tile: TileView): boolean {
    return tile.picture !== undefined && this.drawn.get(tile.index) === tile.picture;
  }

  /** Takes the tiles as they now are; fetches those that are new. */
  update(run: RunView | null, tiles: readonly (TileView | undefined)[]): void {
    if (run?.runId !== this.run?.runId) this.clear();
    this.run = run;
    if (!run) return;
    for (const tile of tiles) {
      if (!tile || tile.picture === undefined || this.wanted.get(tile.index) === tile.picture) continue;
      this.wanted.set(tile.index, tile.picture);
      void this.fetch(run, tile, tile.picture, tiles);
    }
  }

  private clear(): void {
    this.byChip.clear();
    this.drawn.clear();
    this.wanted.clear();
    this.queue = createQueue(AT_A_TIME);
  }

  private async fetch(run: RunView, tile: TileView, url: string, tiles: readonly (TileView | undefined)[]): Promise<void> {
    const mosaic = this.mosaicOf(run, tile.chip, tiles);
    const widthPx = Math.max(8, Math.ceil((run.fieldWidthUm / mosaic.umPerPx) * 1.2));
    try {
      const picture = await this.queue(() => fetchPicture(url, Math.min(widthPx, run.frameWidthPx)));
      if (this.run?.runId === run.runId) this.draw(mosaic, picture, tile, run);
      picture.close();
    } catch {
      // It is asked for again when the tile is next heard of; until then the plan shows through.
      this.wanted.delete(tile.index);
    }
  }

  private draw({ canvas, umPerPx, leftUm, topUm }: Mosaic, picture: ImageBitmap, tile: TileView, run: RunView): void {
    const context = canvas.getContext('2d');
    if (!context) return;
    context.setTransform(1 / umPerPx, 0, 0, -1 / umPerPx, -leftUm / umPerPx, topUm / umPerPx);
    context.imageSmoothingQuality = 'medium';
    drawTile(context, picture, tile, run);
    if (tile.picture !== undefined) this.drawn.set(tile.index, tile.picture);
    this.changed();
  }

  private mosaicOf(run: RunView, chip: string, tiles: readonly (TileView | undefined)[]): Mosaic {
    const known = this.byChip.get(chip);
    if (known) return known;
    const made = newMosaic(run, tiles.flatMap((tile) => (tile?.chip === chip ? [tile] : [])));
    this.byChip.set(chip, made);
    return made;
  }
}
