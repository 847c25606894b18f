import { median } from '../vision/statistics.ts';
import type { BlockReading } from './blocks.ts';
import { LINEARITY_BAR, type ChannelLinearity, type LinearityMeasurement, type LinearityResult } from './types.ts';

/** Frames at both exposures, in the order short, long, long, short: what the lamp gains or loses evenly from the first to the last falls out. */
export interface Cycle {
  readonly short: readonly BlockReading[];
  readonly long: readonly BlockReading[];
}

export interface LinearityReadings {
  /** As the camera really used them. */
  readonly shortMs: number;
  readonly longMs: number;
  readonly dark: Cycle;
  readonly light: readonly Cycle[];
}

/** A channel must reach this share of full scale at the long exposure: below, the zero of the camera counts for too much. */
export const LEAST_LEVEL = 0.1;
/** The brightest part of the blocks is judged: there a bend near the upper end shows, and noise is least. */
const BRIGHTEST = 1 / 3;
const LEAST_BLOCKS = 9;
/**
 * Standard errors that noise is allowed. Student's t with the five degrees of freedom that six cycles leave: beyond 4.03 lies 1 of 100
 * (two-sided; tables of the distribution).
 */
const COVERAGE = 4;
/** Both errors are of the same noise where the light is steady; six cycles tell theirs within a factor of two. */
const UNSTEADY = 2;
/** Standard deviation over median absolute deviation of a normal distribution, and standard error of its median over that of its mean. */
const SPREAD_PER_MAD = 1.4826;
const MEDIAN_PENALTY = Math.sqrt(Math.PI / 2);

/**
 * Judges by two exposures, each with and without light, whether the camera's numbers follow the light (the idea of EMVA 1288, linearity of
 * the response, from memory; that standard fits a line through many exposures). Not linear is said only where a channel is off by more
 * than the bar and its uncertainty together, linear only where all channels that can be judged are within the bar, surely enough.
 */
export function judgeLinearity(readings: LinearityReadings): LinearityResult {
  const { shortMs, longMs } = readings;
  const names = readings.dark.short[0]?.channels === 1 ? (['grey'] as const) : (['red', 'green', 'blue'] as const);
  const all = names.map((name, channel) => ({ name, found: judgeChannel(readings, channel, name) }));
  const channels = all.flatMap(({ found }) => (typeof found === 'string' || found.level < LEAST_LEVEL ? [] : [found]));
  const measured: LinearityMeasurement = { shortMs, longMs, channels, leftOut: names.filter((name) => !channels.some((channel) => channel.name === name)) };
  if (channels.length > 0) return verdictOf(measured);
  const levels = all.flatMap(({ found }) => (typeof found === 'string' ? [] : [found.level]));
  if (levels.length === 0) return { verdict: 'unknown', why: { code: 'tooBright', shortMs } };
  return { verdict: 'unknown', why: { code: 'tooDark', longMs, level: Math.max(...levels), leastLevel: LEAST_LEVEL } };
}

function verdictOf(measured: LinearityMeasurement): LinearityResult {
  const { channels } = measured;
  const isOff = ({ departure, uncertainty }: ChannelLinearity): boolean => Math.abs(departure) > LINEARITY_BAR + COVERAGE * uncertainty;
  if (channels.some(isOff)) return { verdict: 'notLinear', measured };
  if (channels.some(({ uncertainty }) => COVERAGE * uncertainty > LINEARITY_BAR)) return { verdict: 'unknown', why: { code: channels.some(({ isUnsteady }) => isUnsteady) ? 'unsteadyLight' : 'tooNoisy', measured } };
  if (channels.some(({ departure }) => Math.abs(departure) > LINEARITY_BAR)) return { verdict: 'unknown', why: { code: 'atTheBar', measured } };
  return { verdict: 'linear', measured };
}

function judgeChannel({ shortMs, longMs, dark, light }: LinearityReadings, channel: number, name: ChannelLinearity['name']): ChannelLinearity | 'saturated' {
  const frames = light.flatMap(({ short, long }) => [...short, ...long]);
  const [darkShort, darkLong] = [meansOf(dark.short, channel), meansOf(dark.long, channel)];
  const cycles = light.map(({ short, long }) => ({ short: less(meansOf(short, channel), darkShort), long: less(meansOf(long, channel), darkLong) }));
  const whole = { short: meanOf(cycles.map(({ short }) => short)), long: meanOf(cycles.map(({ long }) => long)) };
  const usable = [...whole.long.keys()].filter((block) => Number.isFinite(whole.long[block]) && !frames.some(({ isSaturated, channels }) => isSaturated[block * channels + channel] === 1));
  if (usable.length < LEAST_BLOCKS) return 'saturated';
  const brightest = usable.sort((a, b) => (whole.long[b] as number) - (whole.long[a] as number)).slice(0, Math.max(LEAST_BLOCKS, Math.round(usable.length * BRIGHTEST)));
  const ratios = ratiosOf(whole, brightest);
  const ratio = median(ratios);
  const ofCycles = cycles.map((cycle) => median(ratiosOf(cycle, brightest)));
  const blocksError = errorOfMedian(ratios) / Math.abs(ratio);
  const lightOf = (reading: BlockReading, darkLevel: Float64Array): number => mean(brightest.map((block) => (reading.means[block * reading.channels + channel] as number) - (darkLevel[block] as number)));
  const pairs = light.map(({ short, long }) => ({ short: short.map((reading) => lightOf(reading, darkShort)), long: long.map((reading) => lightOf(reading, darkLong)) }));
  // Six cycles may agree by chance; that their frames do so as well is far less likely.
  const cyclesError = Math.max(errorOfMean(ofCycles) / Math.abs(ratio), errorByFrames(pairs));
  return {
    name,
    ratio,
    uncertainty: Math.hypot(blocksError, cyclesError),
    departure: ratio / (longMs / shortMs) - 1,
    level: median(Float32Array.from(brightest, (block) => whole.long[block] as number)),
    isUnsteady: cyclesError > UNSTEADY * blocksError,
  };
}

interface Pair {
  readonly short: Float64Array;
  readonly long: Float64Array;
}

function ratiosOf({ short, long }: Pair, blocks: readonly number[]): Float32Array {
  return Float32Array.from(blocks, (block) => (long[block] as number) / (short[block] as number));
}

/** One channel's blocks, averaged over frames. */
function meansOf(readings: readonly BlockReading[], channel: number): Float64Array {
  return meanOf(readings.map(({ means, channels }) => Float64Array.from({ length: means.length / channels }, (_, block) => means[block * channels + channel] as number)));
}

function meanOf(rows: readonly Float64Array[]): Float64Array {
  return Float64Array.from({ length: rows[0]?.length ?? 0 }, (_, i) => rows.reduce((sum, row) => sum + (row[i] as number), 0) / rows.length);
}

function less(values: Float64Array, taken: Float64Array): Float64Array {
  return values.map((value, i) => value - (taken[i] as number));
}

/**
 * Relative error of the mean ratio that follows from how much two frames of one exposure differ. An even drift is no difference.
 * Of two frames each has the variance of one difference over two; a cycle's ratio, with two above and two below, that of one frame.
 */
function errorByFrames(pairs: readonly { readonly short: readonly number[]; readonly long: readonly number[] }[]): number {
  const differences = (['short', 'long'] as const).map((which) => pairs.map((pair) => ((pair[which][1] ?? 0) - (pair[which][0] ?? 0)) / mean(pair[which])));
  return Math.sqrt(mean(differences.map(varianceOf)) / 2 / pairs.length);
}

function errorOfMedian(values: Float32Array): number {
  const middle = median(values);
  return (MEDIAN_PENALTY * SPREAD_PER_MAD * median(values.map((value) => Math.abs(value - middle)))) / Math.sqrt(values.length);
}

function errorOfMean(values: readonly number[]): number {
  return Math.sqrt(varianceOf(values) / values.length);
}

function varianceOf(values: readonly number[]): number {
  const middle = mean(values);
  return values.reduce((sum, value) => sum + (value - middle) ** 2, 0) / (values.length - 1);
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
