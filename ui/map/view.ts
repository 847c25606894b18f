import type { Matrix2, StagePoint } from '../../planner/units/index.ts';

/** How stage um come to the screen at one moment: x to the right, y up, `resolution` um per css px. */
export interface MapFrame {
  readonly context: CanvasRenderingContext2D;
  readonly width: number;
  readonly height: number;
  readonly resolution: number;
  readonly centreUm: StagePoint;
  /** Device pixels per css px. */
  readonly pixelRatio: number;
}

export interface ScreenPoint {
  readonly x: number;
  readonly y: number;
}

/** Where a stage point is on the screen, css px from the map's upper left corner. */
export function toScreen(frame: MapFrame, point: StagePoint): ScreenPoint {
  return { x: frame.width / 2 + (point.xUm - frame.centreUm.xUm) / frame.resolution, y: frame.height / 2 - (point.yUm - frame.centreUm.yUm) / frame.resolution };
}

/** Sets the context up so that it draws in css px. */
export function useScreen({ context, pixelRatio }: MapFrame): void {
  context.setTransform(pixelRatio, 0, 0, pixelRatio, 0, 0);
}

/** Sets the context up so that it draws in stage um; line widths are then in um too. */
export function useStage(frame: MapFrame): void {
  const { context, pixelRatio, resolution } = frame;
  const scale = pixelRatio / resolution;
  const origin = toScreen(frame, { xUm: 0, yUm: 0 });
  context.setTransform(scale, 0, 0, -scale, origin.x * pixelRatio, origin.y * pixelRatio);
}

/** True when a circle on the stage touches what is seen. */
export function isSeen(frame: MapFrame, centreUm: StagePoint, radiusUm: number): boolean {
  const { x, y } = toScreen(frame, centreUm);
  const r = radiusUm / frame.resolution;
  return x > -r && x < frame.width + r && y > -r && y < frame.height + r;
}

/** Corners of a camera frame on the stage, in the order of its pixels: upper left, upper right, lower right, lower left. `share` draws it smaller. */
export function frameCorners(centreUm: StagePoint, m: Matrix2, widthPx: number, heightPx: number, share = 1): readonly StagePoint[] {
  const corners: readonly (readonly [number, number])[] = [[-1, -1], [1, -1], [1, 1], [-1, 1]];
  return corners.map(([c, r]) => {
    const [dc, dr] = [(c * share * widthPx) / 2, (r * share * heightPx) / 2];
    return { xUm: centreUm.xUm + m[0] * dc + m[1] * dr, yUm: centreUm.yUm + m[2] * dc + m[3] * dr };
  });
}

/** Adds a closed polygon to a path or context, in whatever units the points are turned into. */
export function addPolygon(path: Pick<CanvasPath, 'moveTo' | 'lineTo' | 'closePath'>, points: readonly StagePoint[]): void {
  points.forEach((point, i) => (i === 0 ? path.moveTo(point.xUm, point.yUm) : path.lineTo(point.xUm, point.yUm)));
  path.closePath();
}
