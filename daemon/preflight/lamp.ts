import type { Clock } from '../../drivers/interfaces/index.ts';
import { median } from '../../planner/units/median.ts';
import { advice, cannotBeTold, ok, toMend, type Finding } from '../doctor/finding.ts';
import { figure } from '../errors/words.ts';
import { readBlocks } from '../linearity/blocks.ts';
import { clockText } from './computer.ts';
import type { Bench, PreflightCheck } from './check.ts';

/** A halogen lamp burns 20 to 30 minutes before its light is steady; a white LED a few (common practice, no source). */
const WARM_UP_MIN = { halogen: 20, whiteLed: 5 };
/** The light is watched for so long, at so many moments. */
const WATCH_MS = 24_000;
const FRAMES = 13;
/** Shares by which light may drift over the time watched, and scatter about that drift: a tenth of what a monolayer takes away (common practice, no source). */
const STEADY_DRIFT = 0.005;
const STEADY_RIPPLE = 0.005;

function warmth({ config: { lamp }, ground, told }: Bench): Finding {
  const name = 'lamp warmed up';
  const wantedMin = WARM_UP_MIN[lamp.kind];
  if (lamp.driver === 'simulated') return ok(name, 'a simulated lamp needs no warming up');
  const { lampOnSinceMs } = told;
  const nowMs = ground.surroundings.now();
  if (lampOnSinceMs === undefined) return cannotBeTold(name, `since when it is on is not known; ${wantedMin} min are wanted`, 'say when it was switched on: --lamp-on-since 19:40');
  const min = (nowMs - lampOnSinceMs) / 60_000;
  const seen = `on for ${figure(min, 0)} min`;
  if (min < wantedMin) return toMend(name, `${seen}, where ${wantedMin} min are wanted`, `check again at ${clockText(lampOnSinceMs + wantedMin * 60_000, nowMs)}`);
  return ok(name, seen);
}

/** Intensities that are all the same setting: what a controller rounds to is none. */
const isSame = (a: number, b: number): boolean => Math.abs(a - b) < 0.005;
const percent = (share: number): string => `${Math.round(100 * share)} %`;

/** A halogen lamp's colour goes with its voltage: frames compare only when it burns alike (black-body radiation, any textbook). */
function brightness({ config, sheet, ground, path }: Bench): Finding {
  const name = 'lamp brightness';
  if (config.lamp.kind !== 'halogen') return ok(name, 'the colour of a white LED hardly follows its brightness');
  const again = sheet.closeUps && config.opticalPaths[sheet.closeUps.opticalPath];
  const others = [...(again && sheet.closeUps ? [{ path: sheet.closeUps.opticalPath, intensity: again.lampIntensity }] : []), ...ground.records().lampBefore.map((each) => ({ path: `${each.path} in an earlier night`, intensity: each.intensity }))];
  const odd = others.find(({ intensity }) => !isSame(intensity, path.lampIntensity));
  if (!odd) return ok(name, `${percent(path.lampIntensity)} under every optical path of this night${ground.records().lampBefore.length > 0 ? ' and in earlier nights' : ''}`);
  return advice(name, `${path.name} burns the lamp at ${percent(path.lampIntensity)}, ${odd.path} at ${percent(odd.intensity)}: a halogen lamp changes its colour with its voltage, and contrast with it`, 'use one `lampIntensity`, and set brightness by neutral filters and the exposure');
}

/** Since when the lamp burns, and whether it burns as before. */
export const checkLamp: PreflightCheck = { name: 'lamp', needs: 'nothing', look: async (bench) => [warmth(bench), brightness(bench)] };

/** The line through levels over time, as shares of their mean: how much it rises over the whole time, and how much they scatter about it. */
export function steadiness(levels: readonly number[]): { readonly drift: number; readonly ripple: number } {
  const n = levels.length;
  const mean = levels.reduce((sum, level) => sum + level, 0) / n;
  const at = levels.map((_, i) => i - (n - 1) / 2);
  const slope = levels.reduce((sum, level, i) => sum + level * (at[i] ?? 0), 0) / at.reduce((sum, t) => sum + t * t, 0);
  const squares = levels.reduce((sum, level, i) => sum + (level - mean - slope * (at[i] ?? 0)) ** 2, 0);
  return { drift: (slope * (n - 1)) / mean, ripple: Math.sqrt(squares / Math.max(1, n - 2)) / mean };
}

/** Median of a field's blocks in linear light, all channels together. */
function lightOf(means: Float64Array): number {
  return median([...means].filter(Number.isFinite));
}

async function watchLight({ instrument, config, signal }: Bench, clock: Clock): Promise<readonly number[]> {
  const levels: number[] = [];
  for (let n = 0; n < FRAMES; n++) {
    if (n > 0) await clock.sleep(WATCH_MS / (FRAMES - 1), signal);
    levels.push(lightOf(readBlocks(await instrument.camera.snap(signal), config.camera.transfer).means));
  }
  return levels;
}

/** Whether the light stays the same for a while at one place. */
export const checkSteady: PreflightCheck = {
  name: 'lamp steady',
  needs: 'light',
  look: async (bench) => {
    const levels = await watchLight(bench, bench.instrument.clock);
    if (Math.max(...levels) < 0.01) return [cannotBeTold('lamp steady', 'there is too little light to judge it by', 'see to the exposure first')];
    const { drift, ripple } = steadiness(levels);
    const seen = `drift ${figure(100 * drift, 2)} %, ripple ${figure(100 * ripple, 2)} % in ${WATCH_MS / 1000} s (${100 * STEADY_DRIFT} % each is allowed)`;
    if (Math.abs(drift) > STEADY_DRIFT || ripple > STEADY_RIPPLE) return [toMend('lamp steady', seen, 'let it warm up; look for a loose bulb, a supply that is not stabilised, and room light')];
    return [ok('lamp steady', seen)];
  },
};
