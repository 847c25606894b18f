import { apply2, invert2, type Matrix2, type StageBox, type StagePoint } from '../../planner/units/index.ts';
import type { Region } from '../../drivers/interfaces/index.ts';
import { boxAround, boxesMeet } from '../world/shapes.ts';
import type { Blemish, TrueFlake, WorldChip } from '../world/types.ts';
import type { Colour } from '../optics/films.ts';
import type { Canvas, CanvasPoint } from './canvas.ts';
import type { Scene } from './scene.ts';

/** What lies between the chips: a dark holder. */
const HOLDER: Colour = [0.025, 0.024, 0.023];

/** Where the canvas lies on the stage: its pixels are a part of the sensor's. */
export interface View {
  readonly centreUm: StagePoint;
  readonly objective: number;
  readonly cameraToStageUm: Matrix2;
  readonly sensorWidthPx: number;
  readonly sensorHeightPx: number;
  readonly region: Region;
}

export function toStage(view: View, x: number, y: number): StagePoint {
  const { region, sensorWidthPx, sensorHeightPx, centreUm } = view;
  const [dx, dy] = apply2(view.cameraToStageUm, region.colPx + x - sensorWidthPx / 2, region.rowPx + y - sensorHeightPx / 2);
  return { xUm: centreUm.xUm + dx, yUm: centreUm.yUm + dy };
}

function toCanvas(view: View): (p: StagePoint) => CanvasPoint {
  const inverse = invert2(view.cameraToStageUm);
  if (!inverse) throw new RangeError('cameraToStageUm is singular');
  const { region, sensorWidthPx, sensorHeightPx, centreUm } = view;
  const column = sensorWidthPx / 2 - region.colPx;
  const row = sensorHeightPx / 2 - region.rowPx;
  return (p) => {
    const [x, y] = apply2(inverse, p.xUm - centreUm.xUm, p.yUm - centreUm.yUm);
    return { x: x + column, y: y + row };
  };
}

/** The stage box that the view shows. */
export function viewBox(view: View): StageBox {
  const { widthPx, heightPx } = view.region;
  return boxAround([toStage(view, 0, 0), toStage(view, widthPx, 0), toStage(view, 0, heightPx), toStage(view, widthPx, heightPx)]);
}

function isInside(canvas: Canvas, corners: readonly CanvasPoint[]): boolean {
  // A convex outline given one way round: all corners of the canvas lie on the same side of every edge.
  const rim = [[0, 0], [canvas.width, 0], [0, canvas.height], [canvas.width, canvas.height]] as const;
  const turns = corners.flatMap((from, i) => {
    const to = corners[(i + 1) % corners.length] ?? from;
    return rim.map(([x, y]) => Math.sign((to.x - from.x) * (y - from.y) - (to.y - from.y) * (x - from.x)));
  });
  return turns.every((turn) => turn === turns[0]);
}

function paintFlake(canvas: Canvas, scene: Scene, chip: WorldChip, view: View, flake: TrueFlake, place: (p: StagePoint) => CanvasPoint): void {
  for (const { outlineUm, film } of flake.terraces) canvas.cover(outlineUm.map(place), scene.colourOf(chip, view.objective, film));
}

type Blob = Extract<Blemish, { kind: 'blob' }>;

/** How much of a blob's effect there is at a distance (in radii) from its edge; 1 inside, 0 outside, smooth between. */
function softShare(distanceUm: number, softUm: number): number {
  const t = Math.min(1, Math.max(0, 0.5 - distanceUm / softUm));
  return t * t * (3 - 2 * t);
}

function blobShare({ radiusUm, softUm, lobe, phase, hollow, turnRad = 0 }: Blob, dx: number, dy: number): number {
  const angle = Math.atan2(dy, dx) - turnRad;
  const edgeUm = radiusUm * (1 + lobe * (Math.cos(2 * angle + phase) + Math.cos(3 * angle - phase)));
  const distanceUm = Math.hypot(dx, dy);
  const share = softShare(distanceUm - edgeUm, softUm);
  return hollow > 0 ? share - softShare(distanceUm - edgeUm * hollow, softUm * (1 - hollow)) : share;
}

function paintBlob(canvas: Canvas, view: View, blob: Blob, place: (p: StagePoint) => CanvasPoint): void {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = blob.box;
  const corners = [[xMinUm, yMinUm], [xMaxUm, yMinUm], [xMinUm, yMaxUm], [xMaxUm, yMaxUm]].map(([xUm = 0, yUm = 0]) => place({ xUm, yUm }));
  const xs = corners.map((p) => p.x);
  const ys = corners.map((p) => p.y);
  const x0 = Math.max(0, Math.floor(Math.min(...xs)));
  const y0 = Math.max(0, Math.floor(Math.min(...ys)));
  const x1 = Math.min(canvas.width, Math.ceil(Math.max(...xs)));
  const y1 = Math.min(canvas.height, Math.ceil(Math.max(...ys)));
  if (x0 >= x1 || y0 >= y1) return;
  canvas.markPainted(x0, y0, x1 - 1, y1 - 1);
  const m = view.cameraToStageUm;
  const first = toStage(view, x0 + 0.5, y0 + 0.5);
  const fromX = first.xUm - blob.centreUm.xUm;
  const fromY = first.yUm - blob.centreUm.yUm;
  for (let y = y0; y < y1; y++) {
    for (let x = x0; x < x1; x++) {
      const share = blobShare(blob, fromX + m[0] * (x - x0) + m[1] * (y - y0), fromY + m[2] * (x - x0) + m[3] * (y - y0));
      if (share > 0) canvas.multiply((y * canvas.width + x) * 3, blob.factors, share);
    }
  }
}

function paintBlemish(canvas: Canvas, view: View, blemish: Blemish, place: (p: StagePoint) => CanvasPoint): void {
  if (blemish.kind === 'stripe') canvas.tint(blemish.outlineUm.map(place), blemish.factors);
  else paintBlob(canvas, view, blemish, place);
}

/** Paints what the view shows, sharp and evenly lit, and returns the chips in it. */
export function paint(canvas: Canvas, scene: Scene, view: View): readonly WorldChip[] {
  const box = viewBox(view);
  const place = toCanvas(view);
  const shows = (outline: readonly StagePoint[]) => boxesMeet(boxAround(outline), box);
  const chips = scene.world.chips.filter((chip) => shows(chip.outlineUm));
  canvas.fill(HOLDER);
  for (const chip of chips) {
    const outline = chip.outlineUm.map(place);
    const oxide = scene.colourOf(chip, view.objective);
    if (isInside(canvas, outline)) canvas.fill(oxide);
    else canvas.cover(outline, oxide);
    for (const flake of chip.flakes) {
      if (flake.terraces[0] && shows(flake.terraces[0].outlineUm)) paintFlake(canvas, scene, chip, view, flake, place);
    }
    for (const blemish of chip.blemishes) if (boxesMeet(blemish.box, box)) paintBlemish(canvas, view, blemish, place);
  }
  return chips;
}
