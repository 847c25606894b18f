import type { Colour } from '../optics/films.ts';

/** Side of the squares in which is kept where something was painted: only those need blurring. */
export const BLOCK_PX = 64;
/** Lines per pixel row at which a shape's edge is followed; across, the edge is exact. */
const LINES_PER_ROW = 8;

/** A place on the canvas, in pixels from its outer corner. */
export interface CanvasPoint {
  readonly x: number;
  readonly y: number;
}

/** Reflected light in red, green and blue, before the camera: rows from the top, interleaved. */
export class Canvas {
  readonly width: number;
  readonly height: number;
  readonly values: Float32Array;
  readonly blocksAcross: number;
  readonly blocksDown: number;
  /** 1 where a block was painted on. */
  readonly painted: Uint8Array;
  readonly #coverage: Float32Array;

  constructor(width: number, height: number) {
    this.width = width;
    this.height = height;
    this.values = new Float32Array(width * height * 3);
    this.blocksAcross = Math.ceil(width / BLOCK_PX);
    this.blocksDown = Math.ceil(height / BLOCK_PX);
    this.painted = new Uint8Array(this.blocksAcross * this.blocksDown);
    this.#coverage = new Float32Array(width + 2);
  }

  fill([red, green, blue]: Colour): void {
    const { values } = this;
    for (let i = 0; i < values.length; i += 3) {
      values[i] = red;
      values[i + 1] = green;
      values[i + 2] = blue;
    }
    this.painted.fill(0);
  }

  /** Puts the colour in place of what is there, inside the polygon, by each pixel's covered share. */
  cover(corners: readonly CanvasPoint[], [red, green, blue]: Colour): void {
    this.#eachRow(corners, (offset, share) => {
      const { values } = this;
      values[offset] = (values[offset] as number) * (1 - share) + red * share;
      values[offset + 1] = (values[offset + 1] as number) * (1 - share) + green * share;
      values[offset + 2] = (values[offset + 2] as number) * (1 - share) + blue * share;
    });
  }

  /** Multiplies what is there by the factors, inside the polygon, by each pixel's covered share. */
  tint(corners: readonly CanvasPoint[], factors: Colour): void {
    this.#eachRow(corners, (offset, share) => this.multiply(offset, factors, share));
  }

  /** Multiplies one pixel, that begins at this offset of `values`, by the factors to the given share. */
  multiply(offset: number, [red, green, blue]: Colour, share: number): void {
    const { values } = this;
    values[offset] = (values[offset] as number) * (1 + (red - 1) * share);
    values[offset + 1] = (values[offset + 1] as number) * (1 + (green - 1) * share);
    values[offset + 2] = (values[offset + 2] as number) * (1 + (blue - 1) * share);
  }

  /** Notes that something was painted between these pixels. */
  markPainted(x0: number, y0: number, x1: number, y1: number): void {
    const last = (value: number, blocks: number) => Math.min(blocks - 1, Math.floor(value / BLOCK_PX));
    for (let down = Math.max(0, Math.floor(y0 / BLOCK_PX)); down <= last(y1, this.blocksDown); down++) {
      for (let across = Math.max(0, Math.floor(x0 / BLOCK_PX)); across <= last(x1, this.blocksAcross); across++) {
        this.painted[down * this.blocksAcross + across] = 1;
      }
    }
  }

  /** Calls `paint` with each pixel's offset and covered share. Odd windings count as inside. */
  #eachRow(corners: readonly CanvasPoint[], paint: (offset: number, share: number) => void): void {
    const ys = corners.map((p) => p.y);
    const xs = corners.map((p) => p.x);
    const top = Math.max(0, Math.floor(Math.min(...ys)));
    const bottom = Math.min(this.height, Math.ceil(Math.max(...ys)));
    const left = Math.max(0, Math.floor(Math.min(...xs)));
    const right = Math.min(this.width, Math.ceil(Math.max(...xs)));
    if (top >= bottom || left >= right) return;
    this.markPainted(left, top, right - 1, bottom - 1);
    for (let row = top; row < bottom; row++) {
      this.#coverage.fill(0, left, right + 2);
      for (let line = 0; line < LINES_PER_ROW; line++) this.#addLine(corners, row + (line + 0.5) / LINES_PER_ROW);
      // `coverage` holds differences from one pixel to the next.
      let share = 0;
      for (let column = left; column < right; column++) {
        share += this.#coverage[column] as number;
        if (share > 1e-6) paint((row * this.width + column) * 3, share > 1 ? 1 : share);
      }
    }
  }

  /** Adds the stretches of one line that lie inside the polygon. */
  #addLine(corners: readonly CanvasPoint[], y: number): void {
    const crossings: number[] = [];
    for (let i = 0; i < corners.length; i++) {
      const from = corners[i] as CanvasPoint;
      const to = corners[i + 1 === corners.length ? 0 : i + 1] as CanvasPoint;
      if (from.y <= y === to.y <= y) continue;
      crossings.push(from.x + ((to.x - from.x) * (y - from.y)) / (to.y - from.y));
    }
    // Most lines are crossed twice, and a sort copies what it sorts.
    if (crossings.length > 2) crossings.sort((a, b) => a - b);
    else if ((crossings[0] as number) > (crossings[1] as number)) crossings.reverse();
    for (let i = 0; i + 1 < crossings.length; i += 2) {
      this.#addEdge(crossings[i] as number, 1 / LINES_PER_ROW);
      this.#addEdge(crossings[i + 1] as number, -1 / LINES_PER_ROW);
    }
  }

  /** From x on to the right, every pixel is covered by `share` more; the pixel that x lies in, by its part. */
  #addEdge(x: number, share: number): void {
    const inside = Math.min(Math.max(x, 0), this.width);
    const column = Math.floor(inside);
    const part = column + 1 - inside;
    this.#coverage[column] = (this.#coverage[column] as number) + share * part;
    this.#coverage[column + 1] = (this.#coverage[column + 1] as number) + share * (1 - part);
  }
}
