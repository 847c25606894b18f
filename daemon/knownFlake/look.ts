import type { Detection } from '../../planner/flakes/types.ts';
import { findKnownFlake, type FoundTerrace, type SeenKnownFlake, type Sought } from '../../planner/knownFlake/index.ts';
import { countedLadder, halogen, idealColourBands, idealMonoBands, whiteLed } from '../../planner/optics/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { KnownFlakeConfig } from '../config/instrument.ts';
import { knownFlakeAt, knownFlakeFrames, knownFlakeReadMs } from '../config/resolve.ts';
import { hasCode } from '../errors/index.ts';
import { changePath } from '../run/changePath.ts';
import type { NightContext } from '../run/context.ts';
import { measurePoint, wholeFrame, type MeasuredPoint } from '../run/focusPoint.ts';
import { poseOf } from '../run/pose.ts';
import type { FrameMeasurement, OpticalContext } from '../vision/types.ts';

/** What a visit has seen, or the code of why it saw nothing. */
export type Look = { readonly ok: true; readonly seen: SeenKnownFlake; readonly sharpness: number } | { readonly ok: false; readonly reason: string };

type Parts = Pick<NightContext, 'instrument' | 'path' | 'config' | 'travel' | 'sheet' | 'pool'>;

/** A frame that shows the flake. */
interface Sight {
  readonly measurement: FrameMeasurement;
  readonly found: FoundTerrace;
}

/**
 * Goes to the known flake, focuses on it, and measures it in a few frames with the night's own passes. The stage stands there afterwards, the
 * objective in focus. Rejects with what the devices say; what is wrong with the flake or its frames comes back as a reason.
 * @param optics what frames are read with; without flat field and level, so that every visit is read alike
 */
export async function lookAtKnownFlake(context: Parts, flake: KnownFlakeConfig, optics: OpticalContext, areaUm2: number | undefined, signal: AbortSignal): Promise<Look> {
  const { instrument, path, travel } = context;
  await changePath(instrument, path, travel.safeHeightUm, signal);
  const atUm = knownFlakeAt(flake, path);
  const focus = await focusOn(context, flake, atUm, signal);
  if (!focus) return { ok: false, reason: 'focusNotFound' };
  const sought: Sought = { atUm, withinUm: flake.withinUm, contrast: contrastOf(context, flake, optics), ...(areaUm2 === undefined ? {} : { areaUm2 }) };
  const sights: Sight[] = [];
  let reason = 'noKnownFlake';
  for (let n = 0; n < knownFlakeFrames; n++) {
    const frame = await wholeFrame(context, signal);
    const measurement = await read(context, { frame, pose: poseOf(context, focus.standsAtUm), optics });
    if (typeof measurement === 'string') reason = measurement;
    else if (measurement.fault) reason = measurement.fault;
    else sights.push(...sightsOf(measurement, measurement.detections, sought));
  }
  return sights.length > 0 ? together(sights, atUm, focus.point.zUm) : { ok: false, reason };
}

/** By what the middle of the field shows; where that is too faint, by more of the field. */
async function focusOn(context: Parts, flake: KnownFlakeConfig, standUm: StagePoint, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const { config, path, sheet } = context;
  const { rangeUm } = sheet.focus;
  const expected = { centreUm: (flake.focusUm ?? config.focus.expectedUm) + path.parfocalUm, rangeUm };
  const middle = { right: 0.5, down: 0.5 };
  return (await measurePoint(context, { standUm, look: middle }, expected, rangeUm, signal)) ?? measurePoint(context, { standUm }, expected, rangeUm, signal);
}

/** The measurement, or the code where the classifier failed on this very frame, which stops no night. */
async function read({ instrument, pool }: Parts, input: Parameters<NightContext['pool']['run']>[0]['input']): Promise<FrameMeasurement | string> {
  try {
    return (await instrument.clock.track(pool.run({ tile: -1, input }), knownFlakeReadMs)).measurement;
  } catch (error) {
    if (!hasCode(error, 'classifierFailed')) throw error;
    return error.code;
  }
}

function sightsOf(measurement: FrameMeasurement, detections: readonly Detection[], sought: Sought): readonly Sight[] {
  const found = findKnownFlake(detections, sought);
  return found ? [{ measurement, found }] : [];
}

/** The mean of all frames that show it; errors fall with the square root of their number. */
function together(sights: readonly Sight[], atUm: StagePoint, zUm: number): Look {
  const mean = (of: (sight: Sight) => number): number => sights.reduce((sum, sight) => sum + of(sight), 0) / sights.length;
  const channels = [...(sights[0]?.found.terrace.contrast ?? []).keys()];
  const each = (of: (sight: Sight) => readonly number[]): number[] => channels.map((channel) => mean((sight) => of(sight)[channel] ?? Number.NaN));
  return {
    ok: true,
    sharpness: mean(({ measurement }) => measurement.sharpness),
    seen: {
      offsetUm: { xUm: mean(({ found }) => found.middleUm.xUm) - atUm.xUm, yUm: mean(({ found }) => found.middleUm.yUm) - atUm.yUm },
      contrast: each(({ found }) => found.terrace.contrast),
      contrastError: each(({ found }) => found.terrace.contrastError).map((error) => error / Math.sqrt(sights.length)),
      level: each(({ measurement }) => measurement.substrate),
      zUm,
      areaUm2: mean(({ found }) => found.terrace.areaUm2),
    },
  };
}

/** Contrast of that many layers by the tables, with an idealised camera: enough to tell the flake from dirt beside it. */
function contrastOf({ config, path }: Parts, { material, oxideNm, layers }: KnownFlakeConfig, { flare }: OpticalContext): readonly number[] {
  // What a filter lets through is not known here: then only its place and size tell the flake.
  if (path.filter !== 'none') return [];
  const bands = flare.length === 1 ? idealMonoBands : idealColourBands;
  const lamp = config.lamp.kind === 'halogen' ? halogen : whiteLed;
  return countedLadder({ material, oxideNm, numericalAperture: path.illuminationNa, lamp, bands, layersMax: layers })[layers]?.contrast ?? [];
}
