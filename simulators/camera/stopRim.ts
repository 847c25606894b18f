import type { Region } from '../../drivers/interfaces/index.ts';

/** Light that still reaches what the stop darkens: reflections within the objective. */
const STRAY = 0.08;

/** The field stop's image in a picture. */
export interface StopRim {
  readonly radiusPx: number;
  /** Blur of its edge. */
  readonly sigmaPx: number;
}

/**
 * Darkens what lies outside of the stop's image, a circle about the sensor's middle, with an edge as blurred as the stop is out of focus
 * (a logistic curve that stands for the blurred edge). `light` is interleaved RGB of a part of the sensor.
 */
export function darkenRim(light: Float32Array, region: Region, sensor: { readonly widthPx: number; readonly heightPx: number }, { radiusPx, sigmaPx }: StopRim): void {
  const softPx = Math.max(0.2, 0.6 * sigmaPx);
  for (let y = 0, i = 0; y < region.heightPx; y++) {
    const dy = region.rowPx + y + 0.5 - sensor.heightPx / 2;
    for (let x = 0; x < region.widthPx; x++) {
      const away = (Math.hypot(region.colPx + x + 0.5 - sensor.widthPx / 2, dy) - radiusPx) / softPx;
      const left = STRAY + (1 - STRAY) / (1 + Math.exp(Math.min(60, away)));
      for (let channel = 0; channel < 3; channel++, i++) light[i] = (light[i] as number) * left;
    }
  }
}
