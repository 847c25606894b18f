import type { Camera, CameraFrame, Clock, Lamp } from '../../drivers/interfaces/index.ts';
import { readDark } from '../vision/darkFrame.ts';
import { readBlocks, type BlockReading } from './blocks.ts';
import { longBounds, longExposure } from './exposures.ts';
import { judgeLinearity, type Cycle } from './judge.ts';
import type { LinearityResult } from './types.ts';

/** What the camera and the lamp are used with otherwise; the camera is given it back at the end. */
export interface LinearitySettings {
  readonly exposureMs: number;
  readonly gainDb: number;
  readonly lampIntensity: number;
  /** What is said of the camera: the check tells whether it is true. */
  readonly transfer: 'linear' | 'srgb';
}

const DARK_FRAMES = 4;
/** Six tell what the light does by itself; see the judge's coverage. */
const CYCLES = 6;
/** A filament's glow needs so long to go, and about so long to come. Common practice, no source. */
const LAMP_SETTLE_MS = 1000;

/**
 * Whether twice the exposure gives twice the light: frames at two exposures, without light and with it, wherever the stage stands. Lamp
 * and camera are left as they were found, however it ends. About 35 frames, 3 s for the lamp and 13 changes of the exposure.
 * Rejects with what the devices reject with; what cannot be judged is a result and no error.
 */
export async function checkLinearity(camera: Camera, lamp: Lamp, settings: LinearitySettings, clock: Clock, signal?: AbortSignal): Promise<LinearityResult> {
  if (lamp.isByHand) return { verdict: 'unknown', why: { code: 'lampByHand' } };
  const bounds = longBounds(camera.info);
  if ('code' in bounds) return { verdict: 'unknown', why: bounds };
  const foundIntensity = await lamp.intensity();
  const bench = new LinearityBench(camera, lamp, settings, clock, signal);
  try {
    const result = await bench.measure(bounds);
    await bench.restore(foundIntensity);
    return result;
  } catch (error) {
    await bench.restore(foundIntensity).catch(() => undefined);
    throw error;
  }
}

/** One check under way. */
class LinearityBench {
  readonly #camera: Camera;
  readonly #lamp: Lamp;
  readonly #settings: LinearitySettings;
  readonly #clock: Clock;
  readonly #signal: AbortSignal | undefined;
  #hot: Int32Array | undefined;
  #exposed: { readonly askedMs: number; readonly usedMs: number } | undefined;

  constructor(camera: Camera, lamp: Lamp, settings: LinearitySettings, clock: Clock, signal: AbortSignal | undefined) {
    this.#camera = camera;
    this.#lamp = lamp;
    this.#settings = settings;
    this.#clock = clock;
    this.#signal = signal;
  }

  async measure(bounds: { readonly minMs: number; readonly maxMs: number }): Promise<LinearityResult> {
    await this.#light(this.#settings.lampIntensity);
    const chosen = await longExposure(this.#settings.exposureMs, bounds, (exposureMs) => this.#at(exposureMs));
    if (typeof chosen !== 'number') return { verdict: 'unknown', why: chosen };
    await this.#light(0);
    const { dark, ...used } = await this.#dark(chosen);
    await this.#light(this.#settings.lampIntensity);
    const light: Cycle[] = [];
    for (let n = 0; n < CYCLES; n++) light.push(await this.#cycle(chosen));
    return judgeLinearity({ ...used, dark, light });
  }

  /** Both are tried, whatever becomes of the other. Rejects with the first trouble. */
  async restore(intensity: number): Promise<void> {
    const { exposureMs, gainDb } = this.#settings;
    const outcomes = await Promise.allSettled([this.#lamp.setIntensity(intensity), this.#camera.configure({ exposureMs, gainDb })]);
    for (const outcome of outcomes) if (outcome.status === 'rejected') throw outcome.reason;
  }

  async #light(intensity: number): Promise<void> {
    if ((await this.#lamp.intensity()) === intensity) return;
    await this.#lamp.setIntensity(intensity);
    await this.#clock.sleep(LAMP_SETTLE_MS, this.#signal);
  }

  /** Resolves with the exposure that the camera really uses. */
  async #expose(exposureMs: number): Promise<number> {
    if (this.#exposed?.askedMs !== exposureMs) {
      const used = await this.#camera.configure({ exposureMs, gainDb: this.#settings.gainDb });
      this.#exposed = { askedMs: exposureMs, usedMs: used.exposureMs };
    }
    return this.#exposed.usedMs;
  }

  async #at(exposureMs: number): Promise<BlockReading> {
    await this.#expose(exposureMs);
    return this.#read(await this.#camera.snap(this.#signal));
  }

  #read(frame: CameraFrame): BlockReading {
    return readBlocks(frame, this.#settings.transfer, this.#hot);
  }

  async #dark(askedMs: number): Promise<{ readonly dark: Cycle; readonly shortMs: number; readonly longMs: number }> {
    const longMs = await this.#expose(askedMs);
    const long = await this.#frames();
    this.#hot = readDark(long, this.#settings.transfer).hot;
    const shortMs = await this.#expose(askedMs / 2);
    const short = await this.#frames();
    return { dark: { short: short.map((frame) => this.#read(frame)), long: long.map((frame) => this.#read(frame)) }, shortMs, longMs };
  }

  async #frames(): Promise<readonly CameraFrame[]> {
    const frames: CameraFrame[] = [];
    for (let n = 0; n < DARK_FRAMES; n++) frames.push(await this.#camera.snap(this.#signal));
    return frames;
  }

  /** Short, long, long, short. */
  async #cycle(longMs: number): Promise<Cycle> {
    const first = await this.#at(longMs / 2);
    const long = [await this.#at(longMs), await this.#at(longMs)];
    return { short: [first, await this.#at(longMs / 2)], long };
  }
}
