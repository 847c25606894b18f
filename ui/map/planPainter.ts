import type { ChipView, RunView, TileView } from '../../daemon/server/messages.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { texts } from '../texts.ts';
import { FONT, INK } from './ink.ts';
import { addPolygon, frameCorners, toScreen, useScreen, useStage } from './view.ts';
import type { MapFrame } from './view.ts';

/** Planned tiles narrower than this on the screen are not drawn one by one: the chip's ground says it. */
const LEAST_TILE_PX = 5;
/** Tiles overlap; drawn a little smaller they read as single cells. */
const CELL_SHARE = 0.86;
/** Between which corners a tile of a kind is struck through. */
const DIAGONALS: Readonly<Record<TileView['state'] | 'faulty', readonly (readonly [number, number])[]>> = { planned: [], done: [], skipped: [[0, 2], [1, 3]], faulty: [[0, 2]] };
/** From this width on there is room in a tile to say why it was left out. */
const REASON_FROM_PX = 110;

/** Chips, what is still to be taken, what was left out, and the tile being taken now. */
export class PlanPainter {
  private run: RunView | null = null;
  private tiles: readonly (TileView | undefined)[] = [];
  private planned: Path2D | undefined;
  private skipped: Path2D | undefined;
  private faulty: Path2D | undefined;

  update(run: RunView | null, tiles: readonly (TileView | undefined)[]): void {
    if (run === this.run && tiles === this.tiles) return;
    this.run = run;
    this.tiles = tiles;
    this.planned = undefined;
    this.skipped = undefined;
    this.faulty = undefined;
  }

  /** What lies under the pictures. */
  paintBelow(frame: MapFrame): void {
    const { run } = this;
    if (!run) return;
    useStage(frame);
    const { context, resolution } = frame;
    context.fillStyle = INK.chip;
    for (const chip of run.chips) {
      context.beginPath();
      addPolygon(context, chip.outlineUm);
      context.fill();
    }
    context.lineWidth = resolution;
    context.strokeStyle = INK.plan;
    paintLeftOut(frame, run);
    if (run.fieldWidthUm / resolution < LEAST_TILE_PX) return;
    context.stroke((this.planned ??= this.pathOf('planned', run)));
  }

  /** What lies over the pictures. `now` is the tile being taken. */
  paintAbove(frame: MapFrame, now: number | undefined, lost: boolean): void {
    const { run } = this;
    if (!run) return;
    useStage(frame);
    this.paintSkipped(frame, run);
    frame.context.lineWidth = 1.25 * frame.resolution;
    frame.context.strokeStyle = INK.chipEdge;
    for (const chip of run.chips) {
      frame.context.beginPath();
      addPolygon(frame.context, chip.outlineUm);
      frame.context.stroke();
    }
    const tile = now === undefined ? undefined : this.tiles[now];
    if (tile) this.paintNow(frame, run, tile, lost);
    useScreen(frame);
    for (const chip of run.chips) paintName(frame, chip);
  }

  private paintSkipped(frame: MapFrame, run: RunView): void {
    const { context, resolution } = frame;
    const path = (this.skipped ??= this.pathOf('skipped', run));
    context.lineWidth = resolution;
    context.strokeStyle = INK.skipped;
    context.stroke(path);
    const faulty = (this.faulty ??= this.pathOf('faulty', run));
    context.lineWidth = 3.2 * resolution;
    context.strokeStyle = INK.casing;
    context.stroke(faulty);
    context.lineWidth = 1.4 * resolution;
    context.setLineDash([6 * resolution, 4 * resolution]);
    context.strokeStyle = INK.casingLight;
    context.stroke(faulty);
    context.setLineDash([]);
    if (run.fieldWidthUm / resolution < REASON_FROM_PX) return;
    useScreen(frame);
    context.font = `600 13px ${FONT}`;
    context.textAlign = 'center';
    for (const tile of this.tiles) if (tile?.reason !== undefined) paintReason(frame, tile.centreUm, tile.reason);
    useStage(frame);
  }

  private paintNow(frame: MapFrame, run: RunView, tile: TileView, lost: boolean): void {
    const { context, resolution } = frame;
    context.beginPath();
    addPolygon(context, this.corners(run, tile, 1));
    context.lineJoin = 'miter';
    context.strokeStyle = INK.casing;
    context.lineWidth = 6 * resolution;
    context.stroke();
    context.strokeStyle = lost ? INK.casingLight : INK.accent;
    context.lineWidth = 2.5 * resolution;
    if (lost) context.setLineDash([5 * resolution, 4 * resolution]);
    context.stroke();
    context.setLineDash([]);
  }

  private corners(run: RunView, tile: TileView, share: number): readonly StagePoint[] {
    return frameCorners(tile.centreUm, run.cameraToStageUm, run.frameWidthPx, run.frameHeightPx, share);
  }

  /**
   * The tiles of one kind as one path. Those left out get both diagonals, those whose frame nothing can be read from get one, so that they
   * read without colour.
   */
  private pathOf(kind: TileView['state'] | 'faulty', run: RunView): Path2D {
    const path = new Path2D();
    for (const tile of this.tiles) {
      if (!tile || (kind === 'faulty' ? tile.fault === undefined : tile.state !== kind)) continue;
      const corners = this.corners(run, tile, CELL_SHARE);
      addPolygon(path, corners);
      for (const [from, to] of DIAGONALS[kind]) {
        const [a, b] = [corners[from], corners[to]];
        if (a && b) {
          path.moveTo(a.xUm, a.yUm);
          path.lineTo(b.xUm, b.yUm);
        }
      }
    }
    return path;
  }
}

/** The areas that the run sheet leaves out: a broken line round them. */
function paintLeftOut({ context, resolution }: MapFrame, run: RunView): void {
  context.setLineDash([5 * resolution, 4 * resolution]);
  for (const area of run.chips.flatMap((chip) => chip.skipUm ?? [])) {
    context.beginPath();
    addPolygon(context, area);
    context.stroke();
  }
  context.setLineDash([]);
}

function paintReason(frame: MapFrame, atUm: StagePoint, reason: string): void {
  const { context } = frame;
  const { x, y } = toScreen(frame, atUm);
  const half = context.measureText(reason).width / 2 + 6;
  context.fillStyle = INK.casing;
  context.fillRect(x - half, y - 11, 2 * half, 22);
  context.fillStyle = INK.wordsQuiet;
  context.textBaseline = 'middle';
  context.fillText(reason, x, y + 1);
}

/** The chip's name above its upper left corner, and what it is when there is room. */
function paintName(frame: MapFrame, chip: ChipView): void {
  const corners = chip.outlineUm.map((point) => toScreen(frame, point));
  const left = Math.min(...corners.map((p) => p.x));
  const right = Math.max(...corners.map((p) => p.x));
  const top = Math.min(...corners.map((p) => p.y));
  const { context } = frame;
  context.textBaseline = 'alphabetic';
  context.textAlign = 'left';
  context.font = `600 14px ${FONT}`;
  const nameWidth = context.measureText(chip.name).width;
  context.fillStyle = INK.words;
  context.fillText(chip.name, left, top - 9);
  context.font = `400 14px ${FONT}`;
  const about = texts.chipAbout(chip).find((words) => nameWidth + 10 + context.measureText(words).width <= right - left);
  if (about === undefined) return;
  context.fillStyle = INK.wordsQuiet;
  context.fillText(about, left + nameWidth + 10, top - 9);
}
