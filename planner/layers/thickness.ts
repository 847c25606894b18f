import type { ThicknessCall } from '../flakes/types.ts';

/** Probability that lies evenly from `nm - halfNm` to `nm + halfNm`. */
export interface ThicknessPiece {
  readonly nm: number;
  readonly halfNm: number;
  readonly weight: number;
}

/** Grid of the density of probability over thickness. */
const BIN_NM = 0.1;
/** Half the width over which it is smoothed: rungs of several hypotheses lie ragged beside each other. */
const SMOOTH_NM = 0.3;
/** Two humps are two readings when the density between them falls below a third of the lower one. */
const VALLEY = 3;
/** Density below this share of the highest is nothing. */
const NOTHING = 1e-4;
/** Other readings with less weight than this are not named. */
const NAMED = 0.05;
/** A reading is open above when its density this near the end of the curve is still such a share of its highest. */
const END_NM = 3;
const OPEN = 0.02;

interface Mode {
  readonly weight: number;
  readonly nm: number;
  readonly spreadNm: number;
  readonly fromBin: number;
  readonly toBin: number;
}

/**
 * What thickness the pieces come to: the reading of most weight as a mean with a 95 % interval, and where the colour repeats the other
 * readings.
 * @param endNm where the curve ends; a reading that reaches it is open above
 * @param leastErrorNm what a standard error cannot fall below
 */
export function thicknessOf(pieces: readonly ThicknessPiece[], endNm: number, leastErrorNm: number): { readonly call: ThicknessCall; readonly errorNm: number } {
  const density = densityOf(pieces, endNm);
  const modes = splitModes(density).map(([fromBin, toBin]) => modeOf(pieces, fromBin, toBin)).sort((a, b) => b.weight - a.weight);
  const [leading = { weight: 1, nm: 0, spreadNm: 0, fromBin: 0, toBin: 1 }, ...others] = modes;
  const total = modes.reduce((sum, m) => sum + m.weight, 0) || 1;
  const alternatives = others
    .filter((m) => m.weight >= NAMED * total)
    .map((m) => ({ nm: m.nm, errorNm: Math.max(m.spreadNm, leastErrorNm), weight: m.weight / total }));
  const lowNm = quantile(density, leading, 0.025);
  const highNm = isOpen(density, leading) ? null : quantile(density, leading, 0.975);
  const call = { nm: leading.nm, lowNm, highNm, weight: leading.weight / total, alternatives };
  return { call, errorNm: Math.max(leading.spreadNm, leastErrorNm) };
}

function densityOf(pieces: readonly ThicknessPiece[], endNm: number): Float64Array {
  const density = new Float64Array(Math.ceil(endNm / BIN_NM) + 1);
  for (const { nm, halfNm, weight } of pieces) {
    const from = Math.max(0, Math.floor((nm - halfNm) / BIN_NM));
    const to = Math.min(density.length - 1, Math.max(from, Math.ceil((nm + halfNm) / BIN_NM) - 1));
    const each = weight / (to - from + 1);
    for (let bin = from; bin <= to; bin++) density[bin] = (density[bin] as number) + each;
  }
  return density;
}

function smoothed(density: Float64Array): Float64Array {
  const reach = Math.round(SMOOTH_NM / BIN_NM);
  return density.map((_, bin) => {
    let sum = 0;
    for (let k = Math.max(0, bin - reach); k <= Math.min(density.length - 1, bin + reach); k++) sum += density[k] as number;
    return sum;
  });
}

/** Bins from and to (the latter left out) of each hump, cut at the lowest place between two. */
function splitModes(density: Float64Array): readonly (readonly [number, number])[] {
  const smooth = smoothed(density);
  const floor = NOTHING * smooth.reduce((most, v) => Math.max(most, v), 0);
  const modes: (readonly [number, number])[] = [];
  let [start, peak, low, lowAt] = [0, 0, Infinity, 0];
  for (let bin = 0; bin < smooth.length; bin++) {
    const value = (smooth[bin] as number) + floor;
    if (value > VALLEY * low && peak > VALLEY * low) {
      modes.push([start, lowAt]);
      [start, peak, low, lowAt] = [lowAt, value, value, bin];
    }
    if (value > peak) [peak, low, lowAt] = [value, value, bin];
    if (value < low) [low, lowAt] = [value, bin];
  }
  return [...modes, [start, density.length]];
}

/** Weight, mean and spread of the pieces whose middles lie between two bins. */
function modeOf(pieces: readonly ThicknessPiece[], fromBin: number, toBin: number): Mode {
  let [weight, sum, squares] = [0, 0, 0];
  for (const piece of pieces) {
    const bin = Math.floor(piece.nm / BIN_NM);
    if (bin < fromBin || bin >= toBin) continue;
    weight += piece.weight;
    sum += piece.weight * piece.nm;
    squares += piece.weight * (piece.nm * piece.nm + (piece.halfNm * piece.halfNm) / 3);
  }
  const nm = weight > 0 ? sum / weight : (fromBin + 0.5) * BIN_NM;
  return { weight, nm, spreadNm: weight > 0 ? Math.sqrt(Math.max(0, squares / weight - nm * nm)) : 0, fromBin, toBin };
}

function quantile(density: Float64Array, { fromBin, toBin }: Mode, share: number): number {
  const own = density.subarray(fromBin, toBin);
  const wanted = share * own.reduce((sum, v) => sum + v, 0);
  let below = 0;
  for (let i = 0; i < own.length; i++) {
    const here = own[i] as number;
    if (below + here >= wanted && here > 0) return (fromBin + i + (wanted - below) / here) * BIN_NM;
    below += here;
  }
  return toBin * BIN_NM;
}

function isOpen(density: Float64Array, { fromBin, toBin }: Mode): boolean {
  if (toBin < density.length) return false;
  const peak = density.subarray(fromBin, toBin).reduce((most, v) => Math.max(most, v), 0);
  const atEnd = density.subarray(density.length - Math.round(END_NM / BIN_NM)).reduce((most, v) => Math.max(most, v), 0);
  return atEnd > OPEN * peak;
}
