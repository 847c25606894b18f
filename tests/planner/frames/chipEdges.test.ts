import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chipEdges } from '../../../planner/frames/chipEdges.ts';
import type { GreyPicture } from '../../../planner/frames/greyPicture.ts';
import { noiseGenerator } from './wavePicture.ts';

/** Protects: a chip's corner is read off its edges to a part of a pixel. Truth: the corner that the picture was made with. */

const size = { widthPx: 240, heightPx: 200 };

/** Bright where both edges say chip, with soft edges, noise and a few dark flakes. */
function pictureOf(corner: { readonly x: number; readonly y: number }, firstRad: number, turnRad: number, seed: number): GreyPicture {
  const next = noiseGenerator(seed);
  const flakes = Array.from({ length: 8 }, () => ({ x: 240 * next(), y: 200 * next(), r: 3 + 9 * next(), depth: 0.2 + 0.7 * next() }));
  const normals = [firstRad, firstRad + turnRad].map((angle) => [Math.cos(angle), Math.sin(angle)] as const);
  const data = new Float32Array(size.widthPx * size.heightPx);
  for (let row = 0; row < size.heightPx; row += 1) {
    for (let col = 0; col < size.widthPx; col += 1) {
      const [x, y] = [col + 0.5, row + 0.5];
      const chip = normals.reduce((share, [nx, ny]) => share / (1 + Math.exp(-((x - corner.x) * nx + (y - corner.y) * ny) / 0.7)), 1);
      const dark = flakes.reduce((light, flake) => light * (Math.hypot(x - flake.x, y - flake.y) < flake.r ? 1 - flake.depth : 1), 1);
      data[row * size.widthPx + col] = (8 + 92 * chip * dark) * (1 + 0.03 * (next() - 0.5));
    }
  }
  return { ...size, data };
}

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });

describe('the corner of a chip', () => {
  it('is found within a quarter of a pixel, at any angle, among flakes; a flake at the corner itself, some pictures in a thousand, may spoil it', () => {
    const pictures = fc.sample(fc.tuple(number(80, 160), number(70, 130), number(0, 2 * Math.PI), number(1.2, 1.9), fc.nat(10_000)), 60);
    const offs = pictures.map(([x, y, firstRad, turnRad, seed]) => {
      const result = chipEdges(pictureOf({ x, y }, firstRad, turnRad, seed));
      if (!result.ok) throw new Error(result.refusal.code);
      for (const edge of result.edges) expect(edge.errorPx).toBeLessThan(0.1);
      return Math.hypot(result.corner.colPx - x, result.corner.rowPx - y);
    });
    const beyond = (px: number): readonly unknown[] => pictures.filter((_, i) => (offs[i] ?? 0) > px);
    expect(beyond(0.25).length, JSON.stringify(beyond(0.25))).toBeLessThanOrEqual(2);
    expect(beyond(0.5).length, JSON.stringify(beyond(0.5))).toBeLessThanOrEqual(1);
  });

  it('is not made up: one edge is one edge, and a field full of chip has none', () => {
    const one = chipEdges(pictureOf({ x: 100, y: -9000 }, 0, Math.PI / 2, 5));
    expect(one).toMatchObject({ ok: false, refusal: { code: 'oneEdge' } });
    const full = { ...size, data: new Float32Array(size.widthPx * size.heightPx).fill(90).map((value, i) => value + (i % 7)) };
    expect(chipEdges(full)).toEqual({ ok: false, refusal: { code: 'noEdge' } });
  });
});
