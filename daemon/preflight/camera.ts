import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { median } from '../../planner/units/median.ts';
import { advice, cannotBeTold, ok, toMend, type Finding } from '../doctor/finding.ts';
import { figure } from '../errors/words.ts';
import { readBlocks } from '../linearity/blocks.ts';
import { checkLinearity } from '../linearity/check.ts';
import { unknownSentence, whatToDo, worstOf } from '../linearity/words.ts';
import { configureCamera, GLOW_MS } from '../run/prepare.ts';
import type { PreflightCheck } from './check.ts';

/** A frame without light may reach this share of full scale: offset and noise do, stray light goes further (common practice, no source). */
const DARKEST = 0.05;
/** Bare substrate is best exposed within these shares of full scale, and can be used within the wider ones (common practice, no source). */
const GOOD_LEVEL = [0.15, 0.85] as const;
const USABLE_LEVEL = [0.05, 0.93] as const;
/** Samples that may be at full scale: hot ones are always there. */
const MOST_SATURATED = 0.002;
/** Noise of one sample over its level, beyond which thin flakes drown (common practice, no source). */
const MOST_NOISE = 0.05;

const percent = (share: number, digits = 0): string => `${figure(100 * share, digits)} %`;

/** What the camera is set to, and what was read back of it. */
export const checkSettings: PreflightCheck = {
  name: 'camera settings',
  needs: 'nothing',
  look: async ({ instrument: { camera }, config, path }) => {
    const name = 'camera settings';
    await configureCamera(camera, path);
    if (config.camera.driver === 'rawVideo') return [cannotBeTold(name, 'nothing can be read back of a camera behind a command', 'see to it where the camera is set: exposure, gain and white balance by hand, gamma 1, no sharpening or denoising')];
    const automatics = config.camera.driver === 'genicam' ? '; automatic exposure, gain, white balance, gamma and filters were switched off and read back when it was opened' : '; it has no automatics';
    return [ok(name, `${figure(path.exposureMs)} ms and ${figure(path.gainDb)} dB, as read back${automatics}`)];
  },
};

/** Whether a frame without light is dark. */
export const checkDark: PreflightCheck = {
  name: 'dark frame',
  needs: 'light',
  look: async ({ instrument: { lamp, camera, clock }, config, signal }) => {
    const name = 'dark frame';
    if (lamp.isByHand) return [cannotBeTold(name, 'the lamp is switched by hand, and no dark frame can be taken')];
    const before = await lamp.intensity();
    await lamp.setIntensity(0);
    try {
      await clock.sleep(GLOW_MS, signal);
      const level = median([...readBlocks(await camera.snap(signal), config.camera.transfer).means].filter(Number.isFinite));
      if (level > DARKEST) return [toMend(name, `${percent(level, 1)} of full scale with the lamp off, where ${percent(DARKEST)} is allowed`, 'switch room light off, cover the eyepieces, and lower the camera\'s offset')];
      return [ok(name, `${percent(level, 1)} of full scale with the lamp off`)];
    } finally {
      await lamp.setIntensity(before);
    }
  },
};

/** Noise of one sample: the spread of the difference of two frames of the same place, over root two; in samples' own units. */
function noiseOf(one: CameraFrame, other: CameraFrame): number {
  let squares = 0;
  for (let i = 0; i < one.data.length; i++) squares += ((one.data[i] ?? 0) - (other.data[i] ?? 0)) ** 2;
  return Math.sqrt(squares / Math.max(1, one.data.length) / 2);
}

/** What two frames of one place, in focus, say of the exposure. Most of a field is bare substrate: its level is the field's median. */
export function judgeExposure(name: string, one: CameraFrame, other: CameraFrame, transfer: 'linear' | 'srgb'): readonly Finding[] {
  const { means, saturatedShare, channels } = readBlocks(one, transfer);
  const levels = Array.from({ length: channels }, (_, channel) => median([...means].filter((value, i) => i % channels === channel && Number.isFinite(value))));
  const [darkest, brightest] = [Math.min(...levels), Math.max(...levels)];
  const seen = `bare substrate at ${percent(darkest)}${channels > 1 ? ` to ${percent(brightest)}` : ''} of full scale`;
  const change = 'correct `exposureMs` of the optical path; leave the lamp as it is';
  if (!(darkest >= USABLE_LEVEL[0])) return [toMend(name, `${seen}: too dark`, change)];
  if (brightest > USABLE_LEVEL[1] || saturatedShare > MOST_SATURATED) return [toMend(name, `${seen}, ${percent(saturatedShare, 1)} of the samples at full scale: too bright`, change)];
  const noise = noiseOf(one, other) / (median([...one.data.subarray(0, 20_000)]) || 1);
  if (noise === 0) return [toMend(name, 'two frames in a row are the same, sample by sample', 'the camera repeats a frame, or removes noise: switch denoising off, and look at its driver')];
  if (noise > MOST_NOISE) return [toMend(name, `${seen}, noise ${percent(noise, 1)} of it, where ${percent(MOST_NOISE)} is allowed`, 'use less gain and a longer exposure, or more light through a filter')];
  const grade = darkest < GOOD_LEVEL[0] ? 'darker' : brightest > GOOD_LEVEL[1] ? 'brighter' : undefined;
  if (grade) return [advice(name, `${seen}, ${grade} than best (${percent(GOOD_LEVEL[0])} to ${percent(GOOD_LEVEL[1])})`, change)];
  return [ok(name, `${seen}, none too bright, noise ${percent(noise, 1)} of it`)];
}

/** Whether twice the exposure gives twice the light. */
export const checkLinear: PreflightCheck = {
  name: 'camera linear',
  needs: 'light',
  look: async ({ instrument: { camera, lamp, clock }, config, path, signal }) => {
    const name = 'camera linear';
    if (config.camera.checkLinearity === false) return [advice(name, 'not checked: the instrument file says `checkLinearity: false`', 'nightjar calibrate linearity')];
    const result = await checkLinearity(camera, lamp, { ...path, transfer: config.camera.transfer }, clock, signal);
    if (result.verdict === 'unknown') return [cannotBeTold(name, unknownSentence(result.why), 'nightjar calibrate linearity')];
    const worst = worstOf(result.measured);
    const seen = worst ? `twice the exposure gives ${figure(worst.ratio, 3)} times the light (${worst.name})` : 'as it should be';
    return [result.verdict === 'linear' ? ok(name, seen) : toMend(name, seen, whatToDo)];
  },
};
