import type { Detection } from '../../planner/flakes/types.ts';
import { pixelAreaUm2 } from '../../planner/units/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { bothSets } from './badSamples.ts';
import { CELL_PX, cellsOf, forgetBlackCells } from './cells.ts';
import type { Cells } from './cells.ts';
import { coarseOf } from './coarse.ts';
import { labelComponents } from './components.ts';
import { contrastImage } from './contrast.ts';
import type { ContrastImage } from './contrast.ts';
import { divide } from './divide.ts';
import { VisionError } from './errors.ts';
import { focusFault, isNoise, lightFault } from './faults.ts';
import { foregroundMask } from './foreground.ts';
import { linearTable } from './linearise.ts';
import { noiseOf } from './noise.ts';
import { repairOutliers, stillOff } from './outliers.ts';
import { pointSpread } from './pointSpread.ts';
import { valueAt } from './quadratic.ts';
import { poseOfSamples, samplesOf } from './samples.ts';
import type { Samples } from './samples.ts';
import { fillFromShort } from './shortExposure.ts';
import { sharpnessOf } from './sharpness.ts';
import { withoutSofter } from './softness.ts';
import { findSubstrate } from './substrate.ts';
import { detectionsOf } from './terraces.ts';
import { isTorn } from './torn.ts';
import type { FlatField, FrameFault, FrameMeasurement, FrameToMeasure, OpticalContext } from './types.ts';
import { cutWindow } from './window.ts';

/** Components of fewer samples are noise. */
const LEAST_COMPONENT = 9;
/** Less bare oxide than this is none. */
const LEAST_SUBSTRATE = 0.03;

/**
 * Measures one frame: from samples to regions of even contrast in stage um, with every region that is no flake kept and named. Pure:
 * the same input gives the same output, and nothing is remembered.
 * @throws VisionError when the settings do not fit the frame (a wrong call); a bad picture comes back with its `fault` instead
 */
export function measureFrame(input: FrameToMeasure): FrameMeasurement {
  const { frame, optics } = input;
  const samples = samplesOf(frame, frame.widthPx === input.pose.widthPx ? optics.masked : undefined);
  if (frame.widthPx !== input.pose.widthPx || frame.heightPx !== input.pose.heightPx) return faulty('wrongSize', samples);
  const table = linearTable(optics.transfer, samples.fullScale);
  const cells = cellsOf(samples, table, optics.dark);
  const fault = lightFault(samples, cells);
  if (fault) return faulty(fault, samples);
  forgetBlackCells(cells);
  const flat = flatValues(optics.flat, cells);
  const levels = flat ? cells.mean.map((v, i) => v / (flat[i] as number)) : cells.mean;
  const substrate = findSubstrate(cells, levels, optics.substrate);
  if (!substrate || substrate.share < LEAST_SUBSTRATE) return faulty('noSubstrate', samples);
  const image = contrastImage(samples, table, optics.dark, optics.flare, cells, substrate, flat);
  const noise = noiseOf(image, cells, substrate.bare);
  if (isNoise(noise)) return faulty('noSubstrate', samples);
  if (input.short) fillFromShort(image, { exposureMs: frame.exposureMs, samples, cells, bare: substrate.bare }, input.short, optics);
  const outliers = bothSets(repairOutliers(image, noise), stillOff(samples, table, noise));
  const found = findDetections(image, noise, poseOfSamples(input.pose, samples), optics);
  return {
    ...(found.fault ? { fault: found.fault } : {}),
    substrate: substrate.surface.map((q) => valueAt(q, 0, 0)),
    noise,
    substrateShare: substrate.share,
    sharpness: sharpnessOf(image, noise),
    detections: found.fault ? [] : found.detections,
    outliers,
    coarse: coarseOf(cells, levels, substrate),
  };
}

interface Found {
  readonly detections: readonly Detection[];
  readonly fault?: FrameFault;
}

function findDetections(image: ContrastImage, noise: readonly number[], pose: FramePose, optics: OpticalContext): Found {
  const mask = foregroundMask(image, noise);
  const psf = pointSpread(optics.numericalAperture, pose);
  if (isTorn(image, mask, noise, psf.sigmaPx)) return { detections: [], fault: 'torn' };
  const pixelUm = Math.sqrt(pixelAreaUm2(pose.cameraToStageUm));
  const { labels, components } = labelComponents(mask, image.widthPx, image.heightPx);
  const detections = components
    .filter((component) => component.count >= LEAST_COMPONENT)
    .flatMap((component) => {
      const window = cutWindow(image, labels, component, noise, pixelUm);
      return detectionsOf(window, divide(window, psf.clearPx), psf, pose);
    });
  const fault = focusFault(detections);
  return { detections: withoutSofter(detections), ...(fault ? { fault } : {}) };
}

function flatValues(flat: FlatField | undefined, cells: Cells): Float32Array | undefined {
  if (!flat) return undefined;
  if (flat.columns !== cells.columns || flat.rows !== cells.rows || flat.channels !== cells.channels) {
    throw new VisionError('wrongFlat', { expected: `${String(cells.columns)}x${String(cells.rows)}`, found: `${String(flat.columns)}x${String(flat.rows)}` });
  }
  return flat.values;
}

function faulty(fault: FrameFault, { widthPx, heightPx, channels }: Samples): FrameMeasurement {
  const [columns, rows] = [Math.ceil(widthPx / CELL_PX), Math.ceil(heightPx / CELL_PX)];
  const none = Array.from({ length: channels }, () => 0);
  const values = new Float32Array(columns * rows * channels).fill(NaN);
  return { fault, substrate: none, noise: none, substrateShare: 0, sharpness: 0, detections: [], outliers: new Int32Array(0), coarse: { columns, rows, channels, values } };
}
