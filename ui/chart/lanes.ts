import type { Terrace } from '../../planner/flakes/types.ts';
import { roundBelow } from '../format.ts';
import { layerLabel } from '../layerRamp.ts';
import type { LayerMark } from '../layerRamp.ts';

export interface LaneTick {
  readonly x: number;
  /** Layer number; left out where it would run into its neighbour. */
  readonly label?: string;
}

export interface LaneDot {
  readonly x: number;
  /** Two standard errors to each side. */
  readonly fromX: number;
  readonly toX: number;
  readonly mark: LayerMark;
  readonly label?: string;
  readonly contrast: number;
  readonly error: number;
}

export interface Lane {
  readonly channel: string;
  readonly ticks: readonly LaneTick[];
  readonly dots: readonly LaneDot[];
}

/** Measured contrast against the calculated ladder, one lane a channel on one shared axis. Places are px from the chart's left. */
export interface Lanes {
  readonly lanes: readonly Lane[];
  readonly axis: readonly { readonly x: number; readonly share: number }[];
  readonly zeroX: number;
}

export interface LanesRequest {
  readonly terraces: readonly Terrace[];
  /** `ladder[layers][channel]`; empty when there is none yet. */
  readonly ladder: readonly (readonly number[])[];
  readonly channels: readonly string[];
  readonly fromPx: number;
  readonly toPx: number;
}

/** Numbers nearer than this would run together. */
const NEAREST_LABELS_PX = 11;
const STANDARD_ERRORS = 2;
const LAYERS_BEYOND = 2;

/** How a terrace is marked. */
export function terraceMark(terrace: Terrace): LayerMark {
  const { layers } = terrace.call;
  if (layers === null) return 'thick';
  return layers === 0 ? 'none' : layers;
}

/** The rungs worth drawing: up to two beyond the thickest terrace, so that the next numbers can be told from it; all when none is counted. */
function rungs(request: LanesRequest): readonly (readonly number[])[] {
  const counted = request.terraces.flatMap((terrace) => terrace.call.layers ?? []);
  return counted.length === 0 ? request.ladder : request.ladder.slice(0, Math.max(1, ...counted) + LAYERS_BEYOND + 1);
}

function extent(request: LanesRequest): readonly [number, number] {
  let least = 0;
  let most = 0;
  const take = (value: number | undefined): void => {
    if (value === undefined || !Number.isFinite(value)) return;
    least = Math.min(least, value);
    most = Math.max(most, value);
  };
  for (const rung of rungs(request)) rung.forEach(take);
  for (const terrace of request.terraces) {
    terrace.contrast.forEach((contrast, channel) => {
      const reach = STANDARD_ERRORS * (terrace.contrastError[channel] ?? 0);
      take(contrast - reach);
      take(contrast + reach);
    });
  }
  const rim = Math.max(0.01, (most - least) * 0.06);
  return [least - rim, most + rim];
}

/** Leaves the labels out that stand too near to one already kept, in the order given. */
function thinned<T extends { readonly x: number }>(items: readonly T[], label: (item: T) => string): (T & { label?: string })[] {
  const kept: number[] = [];
  return items.map((item) => {
    if (kept.some((x) => Math.abs(x - item.x) < NEAREST_LABELS_PX)) return item;
    kept.push(item.x);
    return { ...item, label: label(item) };
  });
}

/** Lays the chart out. */
export function contrastLanes(request: LanesRequest): Lanes {
  const [least, most] = extent(request);
  const scale = (request.toPx - request.fromPx) / (most - least);
  const toX = (share: number): number => request.fromPx + (share - least) * scale;
  const lanes = request.channels.map((channel, c): Lane => {
    const ticks = rungs(request).flatMap((rung, layers) => {
      const share = rung[c];
      return layers === 0 || share === undefined || !Number.isFinite(share) ? [] : [{ x: toX(share), layers }];
    });
    const dots = request.terraces.flatMap((terrace) => {
      const contrast = terrace.contrast[c];
      const error = terrace.contrastError[c] ?? 0;
      if (contrast === undefined) return [];
      const reach = STANDARD_ERRORS * error * scale;
      return [{ x: toX(contrast), fromX: toX(contrast) - reach, toX: toX(contrast) + reach, mark: terraceMark(terrace), contrast, error }];
    });
    return { channel, ticks: thinned(ticks, (tick) => String(tick.layers)), dots: thinned(dots, (dot) => layerLabel(dot.mark)) };
  });
  const step = roundBelow((most - least) / 3);
  const axis = [];
  for (let n = Math.ceil(least / step); n * step <= most; n += 1) axis.push({ x: toX(n * step), share: n * step });
  return { lanes, axis, zeroX: toX(0) };
}
