import type { Polygon } from '../geometry/polygon.ts';
import type { StagePoint } from '../units/index.ts';
import type { Outline } from './types.ts';

/** Corners of the polygon that stands for a circle: it touches the circle from outside and reaches 0.03 % of the radius beyond it. */
const CIRCLE_CORNERS = 128;

/**
 * The outline of a chip as a polygon in stage um. A rectangle starts at its corner of lowest local x and y and runs along its width
 * first; a circle becomes a polygon around it, so that nothing of the chip is lost.
 */
export function outlinePolygon(outline: Outline): Polygon<'stage'> {
  switch (outline.shape) {
    case 'polygon':
      return outline.cornersUm;
    case 'circle':
      return circleCorners(outline.centreUm, outline.radiusUm);
    case 'rectangle':
      return rectangleCorners(outline);
  }
}

function circleCorners(centreUm: StagePoint, radiusUm: number): Polygon<'stage'> {
  const cornerUm = radiusUm / Math.cos(Math.PI / CIRCLE_CORNERS);
  return Array.from({ length: CIRCLE_CORNERS }, (_, i) => {
    const angle = (2 * Math.PI * i) / CIRCLE_CORNERS;
    return { xUm: centreUm.xUm + cornerUm * Math.cos(angle), yUm: centreUm.yUm + cornerUm * Math.sin(angle) };
  });
}

function rectangleCorners(rectangle: Extract<Outline, { shape: 'rectangle' }>): Polygon<'stage'> {
  const angle = (rectangle.angleDeg * Math.PI) / 180;
  const cos = Math.cos(angle);
  const sin = Math.sin(angle);
  const corner = (alongUm: number, acrossUm: number): StagePoint => ({
    xUm: rectangle.centreUm.xUm + alongUm * cos - acrossUm * sin,
    yUm: rectangle.centreUm.yUm + alongUm * sin + acrossUm * cos,
  });
  const w = rectangle.widthUm / 2;
  const h = rectangle.heightUm / 2;
  return [corner(-w, -h), corner(w, -h), corner(w, h), corner(-w, h)];
}
