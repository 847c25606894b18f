import fc from 'fast-check';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import type { ChipToScan, Outline, PlanRequest, StageTiming } from '../../../planner/plan/types.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

export const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });

export const timing: StageTiming = {
  maxSpeedUmPerS: 20_000,
  accelerationUmPerS2: 100_000,
  highSpeedUmPerS: 20_000,
  settleMs: 60,
  backlashUm: 15,
  focusSpeedUmPerS: 500,
  focusAccelerationUmPerS2: 10_000,
  focusSettleMs: 20,
  exposureMs: 20,
  readoutMs: 40,
  bytesPerTile: 1_000_000,
};

export const limits = { xMinUm: 0, xMaxUm: 100_000, yMinUm: 0, yMaxUm: 100_000, zMinUm: 0, zMaxUm: 5000 };

export const square = (sideUm: number, centreUm = at(50_000, 50_000), angleDeg = 0): Outline => ({
  shape: 'rectangle',
  centreUm,
  widthUm: sideUm,
  heightUm: sideUm,
  angleDeg,
});

export const chip = (outline: Outline, name = 'K-01', edgeMarginUm = 0): ChipToScan => ({ name, outline, edgeMarginUm });

/** The usual camera, 2448 x 2048 at 3.45 um, at a magnification; unturned unless told. */
export function request(chips: readonly ChipToScan[], magnification = 10, more: Partial<PlanRequest> = {}): PlanRequest {
  return {
    chips,
    frameWidthPx: 2448,
    frameHeightPx: 2048,
    cameraToStageUm: cameraToStage(3.45 / magnification, 0, false),
    overlap: 0.1,
    focusPointsPerChip: 5,
    focus: { rangeUm: 20, depthOfFieldUm: 6, takeUpUm: 1 },
    limits,
    timing,
    ...more,
  };
}

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });

/** A star-shaped polygon around the middle of the stage: simple by construction, with corners that point inwards. */
export const starOutline: fc.Arbitrary<Outline> = fc.array(number(900, 5000), { minLength: 3, maxLength: 12 }).map((radii) => ({
  shape: 'polygon',
  cornersUm: radii.map((r, i) => {
    const angle = (2 * Math.PI * i) / radii.length;
    return at(50_000 + r * Math.cos(angle), 50_000 + r * Math.sin(angle));
  }),
}));

export const anyOutline: fc.Arbitrary<Outline> = fc.oneof(
  starOutline,
  fc.record({ shape: fc.constant('rectangle' as const), centreUm: fc.constant(at(50_000, 50_000)), widthUm: number(200, 6000), heightUm: number(200, 6000), angleDeg: number(-180, 180) }),
  fc.record({ shape: fc.constant('circle' as const), centreUm: fc.constant(at(50_000, 50_000)), radiusUm: number(200, 4000) }),
);

/** Any camera: turned, mirrored, with an overlap and a magnification that keep a plan small. */
export const anyCamera = fc.record({ rotationDeg: number(-180, 180), mirrored: fc.boolean(), overlap: number(0, 0.5), magnification: fc.constantFrom(5, 10, 20) });
