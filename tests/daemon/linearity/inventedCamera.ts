import type { Camera, CameraSettings, Clock, Lamp } from '../../../drivers/interfaces/index.ts';
import { randomStream } from '../../../simulators/random.ts';
import { instantClock } from '../../support/instantClock.ts';

/** A camera made of what is wanted of it, before an even field that falls off towards its rim. */
export interface InventedCamera {
  readonly seed?: number;
  /** What it makes of light (1 fills a pixel), exposure in ms and light alone; what comes out is cut off at 1. */
  readonly response?: (light: number, exposureMs: number, isLit: boolean) => number;
  /** Exposure at full lamp that fills a pixel in the middle. */
  readonly fillsAtMs?: number;
  readonly electrons?: number;
  readonly bits?: 8 | 12;
  readonly format?: 'mono' | 'rgb8';
  readonly exposures?: readonly [minMs: number, maxMs: number];
  /** The lamp's share more or less from frame to frame (one standard deviation), and per frame. */
  readonly flicker?: number;
  readonly driftPerFrame?: number;
  readonly isByHand?: true;
  readonly lampWas?: number;
}

export interface Invented {
  readonly camera: Camera;
  readonly lamp: Lamp;
  readonly clock: Clock;
  /** What was set last, and how many frames were taken. */
  readonly now: { settings: CameraSettings; intensity: number; frames: number };
}

/** Shares of the light that the channels see. */
const colours = { mono: [1], rgb8: [1, 0.8, 0.5] } as const;
const [widthPx, heightPx] = [48, 36];

export function invent(made: InventedCamera = {}): Invented {
  const { seed = 1, response = (light) => light + 0.01, fillsAtMs = 20, electrons = 10_000, bits = 8, format = 'mono', exposures: [exposureMinMs, exposureMaxMs] = [0.02, 1000], flicker = 0, driftPerFrame = 0 } = made;
  const random = randomStream(seed, 'invented', 'linearity');
  // Drawn once: a night's worth of normal numbers one by one would take longer than the check.
  const noise = Float32Array.from({ length: 8192 }, () => random.normal());
  const now = { settings: { exposureMs: 8, gainDb: 0 }, intensity: made.lampWas ?? 0.5, frames: 0 };
  const full = 2 ** bits - 1;
  const pixelFormat = format === 'rgb8' ? 'rgb8' : bits === 8 ? 'mono8' : 'mono16';
  const shares: readonly number[] = colours[format];
  const take = (): Uint8Array | Uint16Array => {
    const { exposureMs } = now.settings;
    const lamp = now.intensity * (1 + flicker * random.normal()) * (1 + driftPerFrame * now.frames++);
    let place = random.below(noise.length);
    const normal = (): number => noise[(place += 1 + (place % 3)) % noise.length] ?? 0;
    const data = bits === 8 ? new Uint8Array(widthPx * heightPx * shares.length) : new Uint16Array(widthPx * heightPx * shares.length);
    for (let i = 0, at = 0; i < widthPx * heightPx; i++) {
      const away = Math.hypot((i % widthPx) / widthPx - 0.5, Math.floor(i / widthPx) / heightPx - 0.5);
      for (const share of shares) {
        const light = (share * lamp * exposureMs * (1 - 0.3 * away)) / fillsAtMs;
        const noisy = light + Math.sqrt(light / electrons) * normal() + 0.002 * normal();
        data[at++] = Math.max(0, Math.min(full, Math.round(full * response(noisy, exposureMs, lamp > 0))));
      }
    }
    return data;
  };
  const camera: Camera = {
    info: { model: 'invented', widthPx, heightPx, pixelFormat, bits, exposureMinMs, exposureMaxMs },
    async configure(settings) {
      return (now.settings = settings);
    },
    async snap() {
      return { widthPx, heightPx, pixelFormat, bits, data: take(), exposureMs: now.settings.exposureMs, takenAtMs: 0 };
    },
    close: async () => undefined,
  };
  const lamp: Lamp = {
    ...(made.isByHand ? { isByHand: true } : {}),
    intensity: async () => now.intensity,
    async setIntensity(fraction) {
      now.intensity = fraction;
    },
    close: async () => undefined,
  };
  return { camera, lamp, clock: instantClock(0), now };
}
