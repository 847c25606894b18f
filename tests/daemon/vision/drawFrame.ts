import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import type { FramePose } from '../../../planner/units/index.ts';

/** A shape on the drawn chip: corners in pixels, contrast per channel; later shapes lie on earlier ones. */
export interface Shape {
  readonly corners: readonly (readonly [number, number])[];
  readonly contrast: readonly [number, number, number];
  /** Extra blur of this shape alone, pixels: a dried film. */
  readonly softPx?: number;
}

export interface Scene {
  readonly widthPx?: number;
  readonly heightPx?: number;
  readonly shapes?: readonly Shape[];
  /** Level of bare oxide per channel, 0 to 1 of full scale. */
  readonly substrate?: readonly [number, number, number];
  /** Light over the field, relative. */
  readonly light?: (x: number, y: number) => number;
  readonly noise?: number;
  readonly blurPx?: number;
  readonly seed?: number;
  readonly encode?: (light: number) => number;
}

/** 16-bit frames, so that rounding adds nothing to the noise that the test asks for. */
const FULL = 65535;

/** A small generator of even numbers (Park and Miller's multiplier 48271), for repeatable noise. */
export function random(seed: number): () => number {
  let state = (seed % 2147483646) + 1;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

/** Draws a frame with known answers: coverage by 4x4 sub-samples, Gaussian blur, tilted light, photon-like noise. Independent of the code under test. */
export function drawFrame(scene: Scene): CameraFrame {
  const [width, height] = [scene.widthPx ?? 320, scene.heightPx ?? 256];
  const substrate = scene.substrate ?? [0.3, 0.35, 0.5];
  const next = random(scene.seed ?? 1);
  const noise = scene.noise ?? 0.012;
  const data = new Uint16Array(width * height * 3);
  // What lies off the frame changes nothing in it.
  const seen = (scene.shapes ?? []).flatMap(({ corners, contrast, softPx = 0 }) => {
    const cover = coverage(corners, width, height);
    return cover.some((share) => share > 0) ? [{ contrast, cover: blur(cover, width, height, Math.hypot(scene.blurPx ?? 0.6, softPx)) }] : [];
  });
  for (let i = 0; i < width * height; i++) {
    const light = scene.light?.((i % width) / width, Math.floor(i / width) / height) ?? 1;
    for (let c = 0; c < 3; c++) {
      let relative = 1;
      for (const { contrast, cover } of seen) {
        const share = cover[i] as number;
        relative = relative * (1 - share) + share * (1 - (contrast[c] as number));
      }
      const gauss = Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next());
      const value = (substrate[c] as number) * light * (relative + noise * Math.sqrt(Math.max(relative, 0.05)) * gauss);
      const encoded = scene.encode ? scene.encode(Math.max(0, value)) : value;
      data[3 * i + c] = Math.max(0, Math.min(FULL, Math.round(encoded * FULL)));
    }
  }
  return { widthPx: width, heightPx: height, pixelFormat: 'rgb16', bits: 16, data, exposureMs: 1, takenAtMs: 0 };
}

/** Share of every pixel that lies inside a polygon. */
function coverage(corners: readonly (readonly [number, number])[], width: number, height: number): Float32Array {
  const cover = new Float32Array(width * height);
  const xs = corners.map((p) => p[0]);
  const ys = corners.map((p) => p[1]);
  for (let row = Math.max(0, Math.floor(Math.min(...ys))); row < Math.min(height, Math.max(...ys)); row++) {
    for (let col = Math.max(0, Math.floor(Math.min(...xs))); col < Math.min(width, Math.max(...xs)); col++) {
      let inside = 0;
      for (let k = 0; k < 16; k++) if (isInside(corners, col + ((k % 4) + 0.5) / 4, row + (Math.floor(k / 4) + 0.5) / 4)) inside++;
      cover[row * width + col] = inside / 16;
    }
  }
  return cover;
}

function isInside(corners: readonly (readonly [number, number])[], x: number, y: number): boolean {
  let inside = false;
  corners.forEach((a, i) => {
    const b = corners[(i + 1) % corners.length] as readonly [number, number];
    if (a[1] > y !== b[1] > y && x < a[0] + ((b[0] - a[0]) * (y - a[1])) / (b[1] - a[1])) inside = !inside;
  });
  return inside;
}

function blur(plane: Float32Array, width: number, height: number, sigma: number): Float32Array {
  const reach = Math.ceil(3 * sigma);
  const kernel = Array.from({ length: 2 * reach + 1 }, (_, i) => Math.exp(-((i - reach) ** 2) / (2 * sigma * sigma)));
  const sum = kernel.reduce((a, b) => a + b, 0);
  const pass = (from: Float32Array, stride: number, count: number, place: (i: number) => number): Float32Array => {
    const to = new Float32Array(from.length);
    for (let i = 0; i < from.length; i++) {
      const at = place(i);
      let value = 0;
      kernel.forEach((k, j) => {
        const shift = Math.min(count - 1, Math.max(0, at + j - reach)) - at;
        value += (k / sum) * (from[i + shift * stride] as number);
      });
      to[i] = value;
    }
    return to;
  };
  return pass(pass(plane, 1, width, (i) => i % width), width, height, (i) => Math.floor(i / width));
}

export const PIXEL_UM = 0.5;

/** The pose of a drawn frame: half a um per pixel, rows downwards. */
export function drawnPose(frame: CameraFrame, xUm = 0, yUm = 0): FramePose {
  return { centreUm: { xUm, yUm }, cameraToStageUm: [PIXEL_UM, 0, 0, -PIXEL_UM], widthPx: frame.widthPx, heightPx: frame.heightPx };
}

export function square(col: number, row: number, side: number): readonly (readonly [number, number])[] {
  return [[col, row], [col + side, row], [col + side, row + side], [col, row + side]];
}

/** Area of a polygon in square pixels (shoelace). */
export function areaPx(corners: readonly (readonly [number, number])[]): number {
  return Math.abs(corners.reduce((sum, a, i) => {
    const b = corners[(i + 1) % corners.length] as readonly [number, number];
    return sum + a[0] * b[1] - b[0] * a[1];
  }, 0)) / 2;
}
