import { edgesOf } from '../geometry/measure.ts';
import type { Polygon } from '../geometry/measure.ts';
import { apply2, distanceUm, invert2 } from '../units/index.ts';
import { sidesPx, stripMatrix } from './tiles.ts';
import type { CameraView, StripCourse, StripDirection } from './tiles.ts';

/** Of a frame's height at least this share must be left when the slant has taken its own and the overlap has been kept. */
const LEAST_STEP_SHARE = 0.25;
/** Slants nearer to each other than this make the same tiles: a pixel over 10^5. */
const SAME_SLANT = 1e-5;

/**
 * The ways in which strips of tiles may run over a chip, for the route to choose the fastest of: along the frame's own sides, along the
 * stage's axes (where only one motor moves and the other's slack stays taken up), and along the chip's longest edge (where no strip
 * begins or ends with a sliver).
 */
export function stripCourses(outlineUm: Polygon<'stage'>, view: CameraView, overlap: number): readonly StripCourse[] {
  const edge = longestEdge(outlineUm);
  const directions = [[1, 0], [0, 1], edge, [-edge[1], edge[0]]] as const;
  return (['width', 'height'] as const).flatMap((direction) => {
    const slants = directions.map((along) => slantOf(view, direction, along)).filter((slant) => isUsable(slant, view, direction, overlap));
    const different = slants.filter((slant, i) => Math.abs(slant) > SAME_SLANT && slants.findIndex((other) => Math.abs(other - slant) <= SAME_SLANT) === i);
    return [0, ...different].map((slant): StripCourse => ({ direction, slant }));
  });
}

/** Rise of a direction on the stage against the frame's side along the strips; not finite for one that runs across them. */
function slantOf(view: CameraView, direction: StripDirection, [x, y]: readonly [number, number]): number {
  const inverse = invert2(stripMatrix(view, direction));
  if (!inverse) throw new RangeError('cameraToStageUm is singular');
  const [along, across] = apply2(inverse, x, y);
  return across / along;
}

function isUsable(slant: number, view: CameraView, direction: StripDirection, overlap: number): boolean {
  const [side, across] = sidesPx(view, direction);
  const lost = side * Math.abs(slant) * (1 + overlap) + overlap * across;
  return across - lost >= LEAST_STEP_SHARE * across;
}

function longestEdge(outlineUm: Polygon<'stage'>): readonly [number, number] {
  const edges = edgesOf(outlineUm);
  const longest = edges.reduce((best, edge) => (distanceUm(edge.from, edge.to) > distanceUm(best.from, best.to) ? edge : best), edges[0] ?? { from: { xUm: 0, yUm: 0 }, to: { xUm: 1, yUm: 0 } });
  return [longest.to.xUm - longest.from.xUm, longest.to.yUm - longest.from.yUm];
}
