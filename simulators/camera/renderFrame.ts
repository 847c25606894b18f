import type { PixelFormat, Region } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { focusHeightUm } from '../world/surface.ts';
import type { WorldChip } from '../world/types.ts';
import { blurred } from './blur.ts';
import { MIRROR_FILLS_AT_MS, type CameraModel, type SimulatedObjective } from './cameraModel.ts';
import { Canvas } from './canvas.ts';
import { expose } from './expose.ts';
import { paint, toStage, type View } from './paint.ts';
import { objectiveOf, type Scene } from './scene.ts';
import { darkenRim, type StopRim } from './stopRim.ts';

/** One frame to render: where things truly are, and how the camera is set. Plain data, so that it can be sent to a worker. */
export interface RenderRequest {
  /** True stage position. */
  readonly atUm: StagePoint;
  /** True height of the objective. */
  readonly zUm: number;
  readonly objective: number;
  readonly exposureMs: number;
  /** Fraction of the lamp's full light that truly arrives. */
  readonly lampIntensity: number;
  readonly gainDb: number;
  /** The field stop, where it is not fully open: the radius it leaves over half the field's diagonal, and where its image is sharp above the surface. */
  readonly stop?: { readonly opening: number; readonly offsetUm: number };
  readonly region: Region;
  /** Chooses the noise of this frame. */
  readonly noiseKey: string;
}

export interface RenderedFrame {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelFormat: PixelFormat;
  readonly data: Uint8Array | Uint16Array;
}

const MIDDLE_WAVELENGTH_UM = 0.55;

/** Light per pixel through an objective, against the first: (NA / magnification)^2, the same lamp filling both pupils. */
function brightness(objective: SimulatedObjective, first: SimulatedObjective): number {
  const ratio = objective.numericalAperture / objective.magnification / (first.numericalAperture / first.magnification);
  return ratio * ratio;
}

/**
 * Width of the blur in pixels, as one Gaussian: diffraction, 0.21 wavelength / NA (B. Zhang, J. Zerubia, J.-C. Olivo-Marin, Appl. Opt. 46,
 * 1819 (2007), from memory), and defocus, half the radius of the cone of light at that distance.
 */
export function blurSigmaPx({ numericalAperture, cameraToStageUm: m }: SimulatedObjective, defocusUm: number): number {
  const diffractionUm = (0.21 * MIDDLE_WAVELENGTH_UM) / numericalAperture;
  const coneUm = (Math.abs(defocusUm) * Math.tan(Math.asin(Math.min(0.99, numericalAperture)))) / 2;
  return Math.hypot(diffractionUm, coneUm) / Math.sqrt(Math.abs(m[0] * m[3] - m[1] * m[2]));
}

function focusBlur(chips: readonly WorldChip[], view: View, objective: SimulatedObjective, zUm: number): (x: number, y: number) => number {
  const chip = chips[0];
  if (!chip) return () => 0;
  return (x, y) => blurSigmaPx(objective, zUm - (objective.parfocalUm ?? 0) - focusHeightUm(chip, toStage(view, x, y)));
}

/** Height of the surface in the middle of the view, for the first objective. */
function surfaceUm([chip]: readonly WorldChip[], view: View): number {
  return chip ? focusHeightUm(chip, view.centreUm) : 0;
}

function rimOf({ opening, offsetUm }: { readonly opening: number; readonly offsetUm: number }, camera: CameraModel, objective: SimulatedObjective, aboveSurfaceUm: number): StopRim {
  return { radiusPx: (opening * Math.hypot(camera.widthPx, camera.heightPx)) / 2, sigmaPx: blurSigmaPx(objective, aboveSurfaceUm - offsetUm) };
}

/** Renders one frame. The same scene options and request give the same bytes, on whichever thread. */
export function renderFrame(scene: Scene, request: RenderRequest): RenderedFrame {
  const { camera, objectives } = scene.options;
  const { region } = request;
  const objective = objectiveOf(scene.options, request.objective);
  const centreUm = { xUm: request.atUm.xUm + (objective.parcentricXUm ?? 0), yUm: request.atUm.yUm + (objective.parcentricYUm ?? 0) };
  const { cameraToStageUm } = objective;
  const view: View = { centreUm, objective: request.objective, cameraToStageUm, sensorWidthPx: camera.widthPx, sensorHeightPx: camera.heightPx, region };
  const canvas = new Canvas(region.widthPx, region.heightPx);
  const chips = paint(canvas, scene, view);
  const light = blurred(canvas, focusBlur(chips, view, objective, request.zUm));
  if (request.stop) darkenRim(light, region, camera, rimOf(request.stop, camera, objective, request.zUm - (objective.parfocalUm ?? 0) - surfaceUm(chips, view)));
  const mirrorShare = (request.exposureMs * request.lampIntensity) / MIRROR_FILLS_AT_MS;
  const data = expose(light, scene.sensor, {
    scale: mirrorShare * brightness(objective, objectives[0] ?? objective),
    gain: 10 ** (request.gainDb / 20),
    bits: camera.bits,
    transfer: camera.transfer,
    noiseKey: `${scene.options.seed}/${request.noiseKey}`,
    width: region.widthPx,
    height: region.heightPx,
    column: region.colPx,
    row: region.rowPx,
    sensorWidth: camera.widthPx,
  });
  return { widthPx: region.widthPx, heightPx: region.heightPx, pixelFormat: camera.bits === 8 ? 'rgb8' : 'rgb16', data };
}
